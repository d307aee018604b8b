"""The web application as gunicorn serves it."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.production")

application = get_wsgi_application()

from deploy import scheduler  # noqa: E402 - only once the applications are loaded

scheduler.start_in_process()
