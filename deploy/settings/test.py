"""The tests: SQLite unless DATABASE_URL says otherwise, jobs in line, mail in memory."""

from .base import *  # noqa: F403
from .base import SQLITE_OPTIONS, VAR_DIR, env

DEBUG = False
SECRET_KEY = "tests-only-0123456789-0123456789-0123456789-0123456789"  # noqa: S105
ALLOWED_HOSTS = ["*"]

DATABASES = {
    "default": env.db_url("DATABASE_URL", default=f"sqlite:///{VAR_DIR / 'test.sqlite3'}"),
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS
    # A file, not memory: the live server and several threads share it.
    DATABASES["default"]["TEST"] = {"NAME": VAR_DIR / "test-run.sqlite3"}

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
JOBS_RUN = "inline"
AXES_ENABLED = False
