"""One machine, one process: SQLite in the data folder, the outbox drained by a thread."""

from pathlib import Path

from deploy import env
from deploy.secret_key import secret_key
from deploy.settings.base import *  # noqa: F403
from deploy.settings.base import PROJECT, sqlite

DEBUG = False
DATA = Path(env.text("SQUISH_DATA", str(PROJECT / ".data"))).resolve()
DATA.mkdir(parents=True, exist_ok=True)

SECRET_KEY = secret_key(DATA)
ALLOWED_HOSTS = env.names("SQUISH_HOSTS", "localhost,127.0.0.1,[::1]")
DATABASES = {"default": sqlite(DATA / "squish.sqlite3")}
OUTBOX_MODE = "thread"
