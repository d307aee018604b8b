"""The tests: SQLite unless DATABASE_URL says otherwise, jobs in line, mail in memory."""

import os

from .base import *  # noqa: F403
from .base import CELERY_BROKER_TRANSPORT_OPTIONS, POSTGRESQL_PLANNER, SQLITE_OPTIONS, VAR_DIR
from .environment import env

# A tool of the tests brings lxml along, the application has none: workbooks are written as they are in use.
os.environ["OPENPYXL_LXML"] = "False"

DEBUG = False
DOCUMENTS_DIR = VAR_DIR / f"test-{os.getpid()}-documents"
SECRET_KEY = "tests-only-0123456789-0123456789-0123456789-0123456789"  # noqa: S105
ALLOWED_HOSTS = ["*"]

DATABASES = {
    "default": env.db_url("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'test.sqlite3'}"),
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS
    # A file, not memory: the live server and several threads share it. One for each run.
    DATABASES["default"]["TEST"] = {"NAME": VAR_DIR / f"test-{os.getpid()}.sqlite3"}
else:
    DATABASES["default"].setdefault("OPTIONS", {}).setdefault("options", POSTGRESQL_PLANNER)

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
# The worker that a test starts, and the test that sends to it, say "worker".
JOBS_RUN = env.str("JOBS_RUN", default="inline")
JOBS_LEASE_S = env.float("JOBS_LEASE_S", default=120.0)
CELERY_BEAT_SCHEDULE = {
    "tick": {"task": "sites.tasks.tick", "schedule": env.float("JOBS_TICK_S", default=60.0)}
}
# Kinds of jobs that only tests have.
CELERY_IMPORTS = env.list("CELERY_IMPORTS", default=[])
CELERY_BROKER_URL = env.str("REDIS_URL", default="redis://127.0.0.1:6379/0")
CELERY_BROKER_TRANSPORT_OPTIONS["global_keyprefix"] = env.str(
    "CELERY_KEY_PREFIX", default=f"register-test-{os.getpid()}:"
)
AXES_ENABLED = False
# Style sheets and scripts come straight from their folders, without collectstatic.
WHITENOISE_AUTOREFRESH = True
WHITENOISE_USE_FINDERS = True
DEMO_NETWORK_ALLOWED = True
