"""Production: what differs between installations comes from the environment (deploy/env.example)."""

from __future__ import annotations

from urllib.parse import urlsplit

from deploy.logs import logging_settings

from .base import *  # noqa: F403
from .base import POSTGRESQL_PLANNER, SQLITE_OPTIONS
from .environment import database, env, https_address, mail_server, required, secret_key, whole_number

DEBUG = False
SECRET_KEY = secret_key("SECRET_KEY")
# A second key still opens what it signed, so that the first can be changed without signing everybody out.
SECRET_KEY_FALLBACKS = env.list("SECRET_KEY_FALLBACKS", default=[])

REGISTER_ADDRESS = https_address("REGISTER_ADDRESS")
ALLOWED_HOSTS = [str(urlsplit(REGISTER_ADDRESS).hostname), *env.list("ALLOWED_HOSTS", default=[])]
CSRF_TRUSTED_ORIGINS = [REGISTER_ADDRESS]

DATABASES = {"default": database("DATABASE_URL")}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS
else:
    DATABASES["default"] |= {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
    DATABASES["default"].setdefault("OPTIONS", {}).setdefault("options", POSTGRESQL_PLANNER)

vars().update(mail_server("EMAIL_URL"))
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = SERVER_EMAIL = required(
    "MAIL_FROM", "the sender of reminders, such as register@your.example"
)

# How many proxies of our own stand in front; beyond them such headers are the client's own words.
TRUSTED_PROXIES = whole_number("TRUSTED_PROXIES", default=1, lowest=0)
if TRUSTED_PROXIES:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
AXES_CLIENT_IP_CALLABLE = "deploy.proxies.client_address"

SECURE_SSL_REDIRECT = True
SECURE_HSTS_SECONDS = whole_number("HSTS_SECONDS", default=31_536_000, lowest=1)
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True  # takes effect only where the owner of the domain files it for preloading
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_SECURE = True
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 12 * 3600
CSRF_COOKIE_SECURE = True

TIME_ZONE = env.str("TIME_ZONE", default="UTC")

STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

LOGGING = logging_settings(env.str("LOG_LEVEL", default="INFO"), as_json=True)
