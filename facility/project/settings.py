"""Settings, read from the environment so that one code base serves a laptop and a service.

``CHARLINE_DATA``        folder of the SQLite file, the secret key and collected statics (``var``)
``CHARLINE_DEMO``        1: plain http on this machine only, generated key
``CHARLINE_SECRET_KEY``  the secret key; without it one is made and kept in the data folder
``CHARLINE_HOSTS``       host names served, comma separated
``CHARLINE_ORIGIN``      the name of this log on head notes; choose it once, for notes name it
``CHARLINE_HEAD_RECIPIENTS``  addresses that the daily head goes to, comma separated
``CHARLINE_MAIL_HOST``   the mail server (``host:port``); without one, mail is printed
``CHARLINE_MAIL_FROM``   the sender's address
``DATABASE_URL``         PostgreSQL instead of SQLite
``CHARLINE_SECOND_FACTOR``  roles that need a second factor, comma separated, such as
                         ``manager,safety,inspector``; none is asked for without it
``CHARLINE_PROXIES``     how many proxies of ours stand before the program (1; in the demo 0):
                         the address of whoever signs in is read past them
"""

import os
import tomllib
from pathlib import Path
from typing import Any

import dj_database_url
from django.core.management.utils import get_random_secret_key
from django.utils.csp import CSP

BASE_DIR = Path(__file__).resolve().parents[2]
DATA_DIR = Path(os.environ.get("CHARLINE_DATA", BASE_DIR / "var"))
DATA_DIR.mkdir(parents=True, exist_ok=True)
DEMO = os.environ.get("CHARLINE_DEMO") == "1"


def _secret_key() -> str:
    """The key of the environment, else one made once and kept readable by its owner only."""
    if "CHARLINE_SECRET_KEY" in os.environ:
        return os.environ["CHARLINE_SECRET_KEY"]
    path = DATA_DIR / "secret-key"
    if not path.exists():
        path.touch(mode=0o600)
        path.write_text(get_random_secret_key())
    return path.read_text()


SECRET_KEY = _secret_key()
DEBUG = False
ALLOWED_HOSTS = os.environ.get("CHARLINE_HOSTS", "localhost,127.0.0.1,[::1]").split(",")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_tables2",
    "django_filters",
    "django_htmx",
    "django_tasks_db",
    "facility.look",
    "facility.sites",
    "facility.people",
    "facility.rulebook",
    "records.audit",
    "records.ground",
    "records.accounts",
    "records.pictures",
    "records.standard",
    "records.stock",
    "records.inspections",
    "records.plans",
    "records.burns",
    "records.capture",
    "records.yard",
    "records.reports",
    "records.demo",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.csp.ContentSecurityPolicyMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "facility.people.sitting.SittingMiddleware",
    "facility.people.gate.GroundMiddleware",
    "records.audit.middleware.RefusalMiddleware",
]

ROOT_URLCONF = "facility.project.urls"
WSGI_APPLICATION = "facility.project.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "facility.people.gate.ground",
                "records.audit.standing.notice",
            ],
            "builtins": [
                "facility.look.templatetags.look",
                "records.standard.templatetags.standard",
                "django.templatetags.i18n",
            ],
            "loaders": [
                (
                    "django.template.loaders.cached.Loader",
                    [
                        "django.template.loaders.filesystem.Loader",
                        "django.template.loaders.app_directories.Loader",
                    ],
                )
            ],
        },
    }
]

# conn_max_age None keeps the connection: each new SQLite one would replay the pragmas below.
DATABASES: dict[str, Any] = {
    "default": dj_database_url.config(
        default=f"sqlite:///{DATA_DIR / 'db.sqlite3'}", conn_max_age=None
    )
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # IMMEDIATE, because a reader that turns writer fails at once under contention; FULL,
    # because what the screen calls saved must outlive a power cut.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": (
            "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA secure_delete=ON;"
            "PRAGMA recursive_triggers=ON;PRAGMA cache_size=-20000;PRAGMA mmap_size=134217728"
        ),
    }

# Long documents are made by a worker of their own (``manage.py db_worker``), which finds what to
# do in the database; they are kept for a while in the data folder.
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
PAPERS_DIR = DATA_DIR / "papers"

VERSION = tomllib.loads((BASE_DIR / "pyproject.toml").read_text())["project"]["version"]

LOG_ORIGIN = os.environ.get("CHARLINE_ORIGIN", "charline/log")

HEAD_RECIPIENTS = [
    each.strip()
    for each in os.environ.get("CHARLINE_HEAD_RECIPIENTS", "").split(",")
    if each.strip()
]
_mail_host, _colon, _mail_port = os.environ.get("CHARLINE_MAIL_HOST", "").partition(":")
MAILERS: dict[str, Any] = {"default": {"BACKEND": "django.core.mail.backends.console.EmailBackend"}}
if _mail_host:
    MAILERS["default"] = {
        "BACKEND": "django.core.mail.backends.smtp.EmailBackend",
        "OPTIONS": {"host": _mail_host, "port": int(_mail_port or 25)},
    }
DEFAULT_FROM_EMAIL = os.environ.get("CHARLINE_MAIL_FROM", "charline@localhost")

AUTH_USER_MODEL = "facility_people.Person"
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 15},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("sign_in", "name")},
    },
    {"NAME": "facility.people.passwords.NoRepetition"},
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.ScryptPasswordHasher"]
LOGIN_URL = "accounts:sign_in"
LOGIN_REDIRECT_URL = "reports:day_sheet"
SECOND_FACTOR_ROLES = frozenset(
    filter(None, os.environ.get("CHARLINE_SECOND_FACTOR", "").replace(" ", "").split(","))
)
PROXIES = int(os.environ.get("CHARLINE_PROXIES", "0" if DEMO else "1"))
SITTING_IDLE_S = 30 * 60
SITTING_AT_MOST_S = 12 * 3600
TABLET_IDLE_S = 5 * 60  # on a shared tablet
TABLET_AT_MOST_S = 10 * 3600

LANGUAGE_CODE = "en"
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"  # stored; each page shows the ground's own zone

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
DJANGO_TABLES2_TEMPLATE = "look/table.html"
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024

SECURE_CSP = {
    "default-src": [CSP.NONE],
    "script-src": [CSP.SELF],
    "style-src": [CSP.SELF],
    "img-src": [CSP.SELF, "data:"],
    "font-src": [CSP.SELF],
    "connect-src": [CSP.SELF],
    "form-action": [CSP.SELF],
    "frame-ancestors": [CSP.NONE],
    "base-uri": [CSP.NONE],
    "manifest-src": [CSP.SELF],
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
# Only this program reads its cookies, none follows a link from another site, and over https
# their names bind them to this very host.
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Strict"
SESSION_COOKIE_NAME = "session" if DEMO else "__Host-session"
CSRF_COOKIE_NAME = "csrf" if DEMO else "__Host-csrf"
TABLET_COOKIE_NAME = "tablet" if DEMO else "__Host-tablet"
SESSION_COOKIE_AGE = SITTING_AT_MOST_S
SECURE_SSL_REDIRECT = SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = not DEMO
SECURE_HSTS_SECONDS = 0 if DEMO else 31_536_000
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = not DEMO
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
