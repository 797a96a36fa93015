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
# Test processes side by side each use a database of Redis of their own.
PROCESS = os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")
CELERY_BROKER_URL = f"{env.text('SQUISH_TEST_REDIS', 'redis://127.0.0.1:1')}/{PROCESS}"

if "SQUISH_TEST_POSTGRES" in os.environ:
    DATABASES = {"default": env.database("SQUISH_TEST_POSTGRES")}
else:
    # Threads that share one database in memory find its tables locked; a file they can share.
    FOLDER = tempfile.TemporaryDirectory(prefix="squish-test-")
    DATABASES = {"default": sqlite(Path(FOLDER.name) / "untouched.sqlite3")}
    DATABASES["default"]["TEST"] = {"NAME": str(Path(FOLDER.name) / "test.sqlite3")}

WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
