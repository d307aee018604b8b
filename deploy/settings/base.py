"""Settings that every way of running the register shares.

What differs between the demo, the tests and production stands in the module
of that name; what an administrator may set stands in deploy/env.example.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from csp.constants import NONE, SELF

from deploy.logs import logging_settings

from .environment import env, languages, tile_server

BASE_DIR = Path(__file__).resolve().parent.parent.parent
VAR_DIR = Path(env.str("VAR_DIR", default=str(BASE_DIR / "var")))
# What numba compiled once is kept here; it reads this when it is first imported, which no page does.
os.environ.setdefault("NUMBA_CACHE_DIR", str(VAR_DIR / "compiled"))

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "rest_framework.authtoken",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "django_htmx",
    "csp",
    "axes",
    "sites.apps.SitesConfig",
    "licences.apps.LicencesConfig",
    "spectrum.apps.SpectrumConfig",
    "deploy.apps.DeployConfig",
]

# Documents are kept here, by random names, beside what the web server reads and not below it.
DOCUMENTS_DIR = VAR_DIR / "documents"
DOCUMENT_MOST_MB = env.int("DOCUMENT_MOST_MB", default=20)
# What is larger is passed over while it still comes in; the table import takes the largest files (64 MB of nginx).
UPLOAD_MOST_MB = max(DOCUMENT_MOST_MB, 64)
FILE_UPLOAD_HANDLERS = [
    "sites.documents.uploading.BoundedUpload",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "sites.views.reader.read_by_who_is_signed_in",
    "sites.views.acts.one_act_per_request",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "deploy.urls"
WSGI_APPLICATION = "deploy.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "deploy.templating.Templates",
        "NAME": "django",  # by which packages ask for it
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ],
        },
    },
]

AUTH_USER_MODEL = "places.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator"},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"

AXES_VERBOSE = False
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_CALLABLE = "deploy.problems.locked_out"
AXES_LOCKOUT_TEMPLATE = "locked_out.html"
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]

LANGUAGE_CODE = "en"
LANGUAGES = languages("LANGUAGES")
LOCALE_PATHS = [env.str("LOCALE_DIR", default="") or str(BASE_DIR / "locale")]
TIME_ZONE = "UTC"
USE_TZ = True
USE_I18N = True

STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "templates" / "assets"]

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Waiting up to 20 s for the write lock, taking it at BEGIN, and the write-ahead log
# are what lets several people write to one SQLite file at once.
SQLITE_OPTIONS: dict[str, Any] = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": (
        "PRAGMA journal_mode=WAL;PRAGMA synchronous=NORMAL;"
        "PRAGMA mmap_size=134217728;PRAGMA temp_store=MEMORY;"
    ),
}

# A page that is looked up costs hardly more than the next one on solid-state disks and in memory; the server's own
# default is that of turning disks, and makes it walk whole tables for some hundred rows.
POSTGRESQL_PLANNER = "-c random_page_cost=1.1"

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        # The first one names the scheme in a 401 answer; a session has none.
        "rest_framework.authentication.TokenAuthentication",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_SCHEMA_CLASS": "sites.api.days.DescribedWithDays",
    "EXCEPTION_HANDLER": "deploy.problems.problem_response",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}

SPECTACULAR_SETTINGS = {
    "TITLE": "Link register",
    "DESCRIPTION": "Sites, licences, licensed channels and links of one team, and what the checks found.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "SWAGGER_UI_SETTINGS": {"deepLinking": True, "validatorUrl": None},  # asks nobody outside
    "COMPONENT_SPLIT_REQUEST": True,
    "ENUM_NAME_OVERRIDES": {
        "StationRole": "spectrum.models.Station.Role",
        "EvidenceRole": "spectrum.api.serializers.EVIDENCE_ROLES",
        "FindingState": "spectrum.api.serializers.FINDING_STATES",
        "LinkKind": "spectrum.models.Link.Kind",
        "LinkStatus": "spectrum.models.Link.Status",
        "LicenceEnding": "licences.models.licences.ENDINGS",
        "PlannedChangeKind": "spectrum.models.PlannedChange.Kind",
        "Polarisation": "licences.models.channels.POLARISATIONS",
    },
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "deploy.api.describe_problems",
    ],
}

# Tiles of another server under the map; empty: the browser asks nobody but the register.
MAP_TILE_ATTRIBUTION = env.str("MAP_TILE_ATTRIBUTION", default="")
MAP_TILE_URL, _TILE_ORIGIN = tile_server("MAP_TILE_URL", MAP_TILE_ATTRIBUTION)

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", *([_TILE_ORIGIN] if _TILE_ORIGIN else [])],
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    },
}
X_FRAME_OPTIONS = "DENY"

# An empty broker address means: jobs run on a thread of the web process.
CELERY_BROKER_URL = env.str("CELERY_BROKER_URL", default="")
# "thread" (the web process), "worker" (Celery) or "inline" (within the request, for tests)
JOBS_RUN = "worker" if CELERY_BROKER_URL else "thread"
JOBS_TICK_S = 60  # between two rounds of the scheduler
# A worker that gave no sign of life for so long has lost its job to the next one.
JOBS_LEASE_S = 120

# A job is a row with a lease; the broker carries its id. A message is therefore confirmed only
# when the work is done, and one that comes twice finds the row claimed.
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_SOFT_TIME_LIMIT = 1740  # s
CELERY_TASK_TIME_LIMIT = 1800  # s
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None  # a worker waits for its broker for ever
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 3600,  # s; above the longest task, or a second worker would get it meanwhile
    "unacked_restore_interval": 2,  # s; with the throttle: a killed worker's message returns at once
    "unacked_restore_throttle": 1,
    # When the broker is away, or takes a connection and never answers, the row waits for the sweeper.
    "socket_connect_timeout": 2,  # s
    "socket_timeout": 5,  # s
    "max_retries": 0,
    "interval_start": 0,  # s
    "global_keyprefix": env.str("CELERY_KEY_PREFIX", default="register:"),
}
# The only thing on the clock; which jobs are due when stands with their handlers (@jobs.handler).
CELERY_BEAT_SCHEDULE = {"tick": {"task": "sites.tasks.tick", "schedule": JOBS_TICK_S}}

# A folder of terrain tiles (GeoTIFF or .hgt); empty: the earth is taken as smooth.
TERRAIN_DIR = env.str("TERRAIN_DIR", default="")
# ΔN and N0 of ITU-R P.452 for the network's region, its pressure and temperature; they stand on every result.
RADIO_CLIMATE = {
    "refractivity_lapse_n_per_km": env.float("REFRACTIVITY_LAPSE_N_PER_KM", default=45.0),
    "surface_refractivity_n": env.float("SURFACE_REFRACTIVITY_N", default=325.0),
    "pressure_hpa": env.float("PRESSURE_HPA", default=1013.0),
    "temperature_c": env.float("TEMPERATURE_C", default=15.0),
}
# log10 of the geoclimatic factor K, and dN75, of the region from the maps of ITU-R P.530-18: for the availability
# of a path. Without both of them none is given.
_LOG_K, _DN75 = (
    env.float("GEOCLIMATIC_LOG_K", default=None),
    env.float("REFRACTIVITY_GRADIENT_DN", default=None),
)
RADIO_FADING = (
    None if _LOG_K is None or _DN75 is None else {"log_k": _LOG_K, "refractivity_gradient_dn75": _DN75}
)
# Up to which distance antennas count as standing on one structure, and as near enough to mix and block.
SITE_DISTANCES_M = {
    "same_site_within_m": env.float("SAME_SITE_WITHIN_M", default=50.0),
    "near_site_within_m": env.float("NEAR_SITE_WITHIN_M", default=500.0),
}
# How long a planned link holds its pair: usually, and at most; and how long a taker waits for the others.
RESERVATION_DAYS = env.int("RESERVATION_DAYS", default=90)
RESERVATION_MOST_DAYS = env.int("RESERVATION_MOST_DAYS", default=730)
RESERVATION_WAIT_S = 15.0

LOGGING = logging_settings(env.str("LOG_LEVEL", default="WARNING"), as_json=False)

EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
DEFAULT_FROM_EMAIL = "register@localhost"
REGISTER_ADDRESS = env.str("REGISTER_ADDRESS", default="http://localhost:8000")

# Proxies of our own in front of the web process (deploy/proxies.py); only production has any.
TRUSTED_PROXIES = 0
