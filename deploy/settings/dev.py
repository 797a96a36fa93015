"""The embedded service with Django's own debugging; the same data folder as deploy/up."""

from deploy.settings.base import STORAGES
from deploy.settings.embedded import *  # noqa: F403

DEBUG = True
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
