"""The demo: one SQLite file under var/, jobs in the web process, mail to var/mail/."""

from .base import *  # noqa: F403
from .base import SQLITE_OPTIONS, TERRAIN_DIR, VAR_DIR
from .environment import env

DEBUG = False
SECRET_KEY = "demo-only-and-known-to-everyone-who-reads-this-file-0123456789"  # noqa: S105
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]"]

DATABASES = {
    "default": {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": VAR_DIR / "register.sqlite3",
        "OPTIONS": SQLITE_OPTIONS,
    }
}

EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
EMAIL_FILE_PATH = VAR_DIR / "mail"
REGISTER_ADDRESS = env.str("REGISTER_ADDRESS", default=f"http://localhost:{env.int('PORT', default=8000)}")
# The demo makes terrain of its own; TERRAIN_DIR names a folder of real tiles instead.
DEMO_TERRAIN_DIR = VAR_DIR / "terrain"
TERRAIN_DIR = TERRAIN_DIR or str(DEMO_TERRAIN_DIR)
# The demo network brings sign-ins whose password everybody knows; no other settings let it in.
DEMO_NETWORK_ALLOWED = True
