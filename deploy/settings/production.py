"""A server behind HTTPS: PostgreSQL, Celery on Redis, no secret and no host by default."""

from pathlib import Path

from deploy import env
from deploy.settings.base import *  # noqa: F403
from deploy.settings.base import STATIC_ROOT as STATIC_BESIDE_THE_CODE

DEBUG = False
SECRET_KEY = env.secret("SECRET_KEY", at_least=50)
ALLOWED_HOSTS = env.hosts("ALLOWED_HOSTS")
DATABASES = {"default": env.database("DATABASE_URL")}
STATIC_ROOT = Path(env.text("STATIC_ROOT", str(STATIC_BESIDE_THE_CODE)))

OUTBOX_MODE = "celery"
CELERY_BROKER_URL = env.secret("CELERY_BROKER_URL")

SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True
SECURE_SSL_REDIRECT = True
SECURE_REDIRECT_EXEMPT = [r"^health$"]
SECURE_HSTS_SECONDS = env.whole("HSTS_SECONDS", 365 * 24 * 3600, at_least=1)
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True
