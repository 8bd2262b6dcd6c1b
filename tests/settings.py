"""Settings for the tests: plain http, a quick password hash, statics without a build step."""

import os
import tempfile

os.environ.setdefault("CHARLINE_DATA", tempfile.mkdtemp(prefix="charline-tests-"))
os.environ["CHARLINE_DEMO"] = "1"

from facility.project.settings import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
ALLOWED_HOSTS = ["*"]
if "CHARLINE_MIGRATE" not in os.environ:
    # Tables straight from the models, in a second instead of half a minute for each process and
    # each file. tests/audit/test_tampering.py holds the tables of the migrations against them.
    class _NoMigrations:
        def __contains__(self, app: str) -> bool:
            return True

        def __getitem__(self, app: str) -> None:
            return None

    MIGRATION_MODULES = _NoMigrations()
STATIC_ROOT.mkdir(exist_ok=True)  # noqa: F405 - empty, but WhiteNoise warns when it is missing
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):  # noqa: F405
    # A file, so that each thread of the live server has a connection of its own: one connection
    # in memory, shared by threads, sometimes stopped for good in the browser tests.
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}  # noqa: F405
