"""What every way of running has in common. The other files say where they differ."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from deploy.mail import mail_server, site_address

PROJECT = Path(__file__).resolve().parents[2]

INSTALLED_APPS = [
    "deploy",
    "qc",
    "api",
    "dashboards",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
]

MIDDLEWARE = [
    "deploy.middleware.SecurityHeaders",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "dashboards.context.shop",
            ],
        },
    },
]

ROOT_URLCONF = "deploy.urls"
WSGI_APPLICATION = "deploy.wsgi.application"
APPEND_SLASH = False
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

USE_TZ = True
TIME_ZONE = "UTC"
LANGUAGE_CODE = "en-gb"
USE_I18N = False

AUTH_USER_MODEL = "qc.Person"
LOGIN_URL = "/sign-in"
LOGIN_REDIRECT_URL = "/"
CSRF_FAILURE_VIEW = "dashboards.views.errors.csrf_failure"
VALIDATION = "django.contrib.auth.password_validation"
AUTH_PASSWORD_VALIDATORS: list[dict[str, Any]] = [
    {
        "NAME": f"{VALIDATION}.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "name", "email")},
    },
    {"NAME": f"{VALIDATION}.MinimumLengthValidator"},
    {"NAME": f"{VALIDATION}.CommonPasswordValidator"},
    {"NAME": f"{VALIDATION}.NumericPasswordValidator"},
]

SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self' data:",
    "font-src": "'self'",
    "connect-src": "'self'",
    "form-action": "'self'",
    "base-uri": "'none'",
    "frame-ancestors": "'none'",
}

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["api.auth.BenchTokenAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_PARSER_CLASSES": ["api.parsing.StrictJSON"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_METADATA_CLASS": None,
    "DEFAULT_SCHEMA_CLASS": "api.schema.ShopSchema",
    "EXCEPTION_HANDLER": "api.errors.problem_for",
    "URL_FORMAT_OVERRIDE": None,
}
SPECTACULAR_SETTINGS: dict[str, Any] = {
    "TITLE": "Squish Ledger",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SERVE_INCLUDE_SCHEMA": False,
    "COMPONENT_SPLIT_PATCH": False,
    "ENUM_GENERATE_CHOICE_DESCRIPTION": False,
    "POSTPROCESSING_HOOKS": ["api.schema.add_problems"],
    "WEBHOOKS": ["api.webhooks.WEBHOOK"],
}

# A whole set of readings is a few kilobytes; nothing the shop sends comes near these.
DATA_UPLOAD_MAX_MEMORY_SIZE = 1_000_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 1_000
DATA_UPLOAD_MAX_NUMBER_FILES = 0

STATIC_URL = "/static/"
WHITENOISE_ALLOW_ALL_ORIGINS = False
STATIC_ROOT = PROJECT / "deploy" / ".static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

MAIL = mail_server("EMAIL_URL", sender="EMAIL_FROM")
MAIL_IS_SET_UP = bool(MAIL.host)
EMAIL_HOST, EMAIL_PORT = MAIL.host, MAIL.port
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = MAIL.user, MAIL.password
EMAIL_USE_TLS, EMAIL_USE_SSL = MAIL.starts_tls, MAIL.is_tls
EMAIL_TIMEOUT = 10
DEFAULT_FROM_EMAIL = MAIL.sender
# What a link in a message starts with.
SITE_ADDRESS = site_address("SITE_ADDRESS")

# Beyond either of these, health reports that something is wrong.
OUTBOX_OLDEST_SECONDS = 300
WORKER_SILENT_SECONDS = 180

CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_TIME_LIMIT = 120
CELERY_TASK_SOFT_TIME_LIMIT = 100
CELERY_TASK_PUBLISH_RETRY = False
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_TIMEOUT = 2
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "socket_connect_timeout": 2,
    "socket_timeout": 2,
    "retry_policy": {"max_retries": 1},
    "visibility_timeout": 3600,
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "filters": {"refusals": {"()": "deploy.logs.OneLineForRefusals"}},
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "formatter": "plain",
            "filters": ["refusals"],
        }
    },
    "root": {"handlers": ["console"], "level": "INFO"},
    "loggers": {
        "django": {"handlers": ["console"], "level": "WARNING", "propagate": False},
        "django.security.DisallowedHost": {"level": "CRITICAL"},
        "celery.app.trace": {"level": "WARNING"},
    },
}


def sqlite(path: Path) -> dict[str, Any]:
    """An embedded database that has a commit on the disk before it says so."""
    return {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": path,
        "CONN_MAX_AGE": 60,
        "OPTIONS": {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
        },
    }
