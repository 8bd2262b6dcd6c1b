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
