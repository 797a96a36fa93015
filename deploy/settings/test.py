"""What the tests run on: SQLite in a file of this process, or the PostgreSQL they are given."""

import os
import tempfile
from pathlib import Path

from deploy import env
from deploy.settings.base import *  # noqa: F403
from deploy.settings.base import STORAGES, sqlite

DEBUG = False
SECRET_KEY = "only-the-tests-sign-with-this-key-and-they-hold-nothing-worth-stealing"
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
OUTBOX_MODE = "thread"
CELERY_BROKER_URL = env.text("SQUISH_TEST_REDIS", "redis://127.0.0.1:1/0")

if "SQUISH_TEST_POSTGRES" in os.environ:
    DATABASES = {"default": env.database("SQUISH_TEST_POSTGRES")}
else:
    # A file: threads that share one database in memory find its tables locked.
    folder = Path(tempfile.gettempdir())
    DATABASES = {"default": sqlite(folder / "squish-untouched.sqlite3")}
    DATABASES["default"]["TEST"] = {"NAME": str(folder / f"squish-test-{os.getpid()}.sqlite3")}

WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
