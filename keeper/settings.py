"""Settings, all from the environment, safe when nothing is set.

| variable | meaning | unset |
|---|---|---|
| `KEPTLINES_DATA` | folder of the database, photos, copies, secret key, certificates | `./data` |
| `DATABASE_URL` | another database, for example PostgreSQL | SQLite in the data folder |
| `KEPTLINES_SERVE` | `host` (behind HTTPS), `loopback` or `lan`; `start` sets it | `host` |
| `KEPTLINES_HOSTS` | names the book is reached by, with commas | this machine only |
| `KEPTLINES_PUBLIC_ADDRESS` | https://…, where buyers find the pages of sheets | no QR codes |
| `KEPTLINES_PROXY` | how many proxies of yours stand before it (`serving/proxies.py`) | 0 |
| `KEPTLINES_HSTS_SECONDS` | how long browsers insist on HTTPS (`host` only) | one year |
| `KEPTLINES_SECRET_KEY` | signs sessions | made and kept in the data folder |
| `KEPTLINES_TIME_ZONE` | whose today it is | this machine's |
| `KEPTLINES_WORKERS_AUTHORITY` | PEM file: who signs a cluster's certificates | no cluster |
| `KEPTLINES_WORKERS_CERTIFICATE`, `…_KEY` | PEM files: by what it is asked | no cluster |
| `KEPTLINES_LOG` | `json`: a line of JSON for each answer and each trouble | plain, trouble only |
| `KEPTLINES_METRICS_TOKEN` | who sends it as a bearer token may read `/metrics/` | nobody |
| `KEPTLINES_PICTURES` | folder of photos, several machines', or `s3://bucket/prefix` | `media` |
| `KEPTLINES_QUEUE` | `database`: `manage.py work` does what takes long; PostgreSQL only | threads |
| `KEPTLINES_DEBUG` | `1` shows errors to everyone: developers only | off |
"""

import os
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import dj_database_url
import django_stubs_ext
import tzlocal
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from keeper.serving import addresses, files, secrets
from keeper.serving.headers import keep_only_fingerprinted

# Lets forms and views name the model they are for, `ModelForm[Account]`, also at run time.
django_stubs_ext.monkeypatch()

ROOT = Path(__file__).resolve().parent.parent
DATA = Path(os.environ.get("KEPTLINES_DATA") or ROOT / "data").resolve()
DEBUG = os.environ.get("KEPTLINES_DEBUG") == "1"

SERVE = os.environ.get("KEPTLINES_SERVE") or "host"
if SERVE not in {"host", "loopback", "lan"}:
    raise ImproperlyConfigured(f"KEPTLINES_SERVE is {SERVE!r}; it must be host, loopback or lan.")

try:
    secrets.private_folder(DATA)
    SECRET_KEY = os.environ.get("KEPTLINES_SECRET_KEY") or secrets.secret_key(DATA)
except OSError as error:
    raise ImproperlyConfigured(
        f"the data folder {DATA} cannot be used: {error.strerror}."
    ) from error
except secrets.NoKey as error:
    raise ImproperlyConfigured(str(error)) from error

# --- who is answered -------------------------------------------------------------------------

ALLOWED_HOSTS = [*addresses.LOOPBACK]
ALLOWED_HOSTS += [name for name in os.environ.get("KEPTLINES_HOSTS", "").split(",") if name]
if SERVE == "lan":
    LAN_ADDRESSES = addresses.network_addresses()
    LAN_NAMES = addresses.network_names()
    ALLOWED_HOSTS += [*LAN_ADDRESSES, *LAN_NAMES]

# Printed on sheets, so it has to stay: whoever has the paper looks there in twenty years.
try:
    PUBLIC_ADDRESS = addresses.public_address(os.environ.get("KEPTLINES_PUBLIC_ADDRESS") or "")
except ValueError as error:
    raise ImproperlyConfigured(f"KEPTLINES_PUBLIC_ADDRESS {error}") from error

# Plain HTTP is for this machine's own browser alone. On the local network `start --lan` speaks
# TLS itself; a plain request never reaches Django there, so there is nothing to redirect.
OVER_TLS = SERVE != "loopback"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = OVER_TLS
SECURE_SSL_REDIRECT = SERVE == "host"
# Asked by the machine itself, beside the proxy.
SECURE_REDIRECT_EXEMPT = ["^alive/$", "^ready/$", "^metrics/$"]
# With the certificate of our own making a browser must not be told to insist for a year.
SECURE_HSTS_SECONDS = (
    int(os.environ.get("KEPTLINES_HSTS_SECONDS") or 31_536_000) if SERVE == "host" else 0
)
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = SERVE == "host"
_PROXIES = os.environ.get("KEPTLINES_PROXY") or "0"
if not (_PROXIES.isascii() and _PROXIES.isdecimal()):
    raise ImproperlyConfigured(f"KEPTLINES_PROXY is {_PROXIES!r}; it must be a number, 0 or more.")
TRUSTED_PROXIES = int(_PROXIES)
if TRUSTED_PROXIES:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

SESSION_ENGINE = "keeper.sessions"
SESSION_COOKIE_NAME = "keptlines_session"
SESSION_COOKIE_AGE = 30 * 24 * 3600
CSRF_COOKIE_NAME = "keptlines_form"
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "keeper.pages.frame.errors.form_expired"
X_FRAME_OPTIONS = "DENY"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "object-src": [NONE],
    }
}

# --- the application -------------------------------------------------------------------------

ROOT_URLCONF = "keeper.urls"
WSGI_APPLICATION = "keeper.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "keeper",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.messages",
    "django.contrib.sessions",
    "django.contrib.staticfiles",
    "django.forms",
    "axes",
    "csp",
    "django_htmx",
    "simple_history",
    "template_partials",
]

MIDDLEWARE = [
    "keeper.pages.running.watching.WatchingMiddleware",
    "keeper.serving.proxies.VisitorAddressMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "keeper.serving.headers.NoStoreMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "keeper.pages.offline.devices.DevicesMiddleware",
    "keeper.access.AccessMiddleware",
    "keeper.open_links.OpenLinksMiddleware",
    "keeper.pages.frame.once.OnceMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "axes.middleware.AxesMiddleware",
]

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [ROOT / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "builtins": ["keeper.templatetags.once"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "keeper.pages.frame.shell.shell",
            ],
        },
    }
]
FORM_RENDERER = "keeper.pages.frame.rendering.PageRenderer"

# --- accounts --------------------------------------------------------------------------------

AUTH_USER_MODEL = "keeper.Account"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
_VALIDATION = "django.contrib.auth.password_validation"
AUTH_PASSWORD_VALIDATORS: list[dict[str, Any]] = [
    {
        "NAME": f"{_VALIDATION}.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ["name"]},
    },
    {"NAME": f"{_VALIDATION}.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": f"{_VALIDATION}.CommonPasswordValidator"},
    {"NAME": f"{_VALIDATION}.NumericPasswordValidator"},
]
LOGIN_URL = "log-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "log-in"

# Limited per name and address together: a stranger's guessing cannot lock the owner out.
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_USERNAME_FORM_FIELD = "username"
AXES_LOCKOUT_CALLABLE = "keeper.pages.accounts.entering.too_many_tries"
AXES_RESET_ON_SUCCESS = True
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_DISABLE_ACCESS_LOG = True
AXES_ENABLE_ADMIN = False
AXES_VERBOSE = False

# --- the database ----------------------------------------------------------------------------

# Writers queue for up to 20 s instead of failing, and a commit that was acknowledged survives
# a power cut. Foreign keys are Django's default; stated because the book depends on them.
SQLITE_TUNING: dict[str, Any] = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
}
_SQLITE = {"ENGINE": "django.db.backends.sqlite3", "NAME": str(DATA / "book.sqlite3")}
DATABASES: dict[str, Any] = {"default": _SQLITE}
if "DATABASE_URL" in os.environ:
    DATABASES["default"] = dict(dj_database_url.parse(os.environ["DATABASE_URL"]))
DATABASES["default"] |= {"CONN_MAX_AGE": 600, "CONN_HEALTH_CHECKS": True}
if DATABASES["default"]["ENGINE"] == _SQLITE["ENGINE"]:
    DATABASES["default"]["OPTIONS"] = SQLITE_TUNING
else:
    # Locks as long as in SQLite, in milliseconds; then the page says that the book is busy. A walk
    # through the book is one query of many parts, which takes 40 ms as it is and was compiled for
    # four seconds. A book is in memory or on a disk without a head to move: by PostgreSQL's own 4 a
    # few hundred animals were not worth an index, and every animal there is was read for them.
    # What the address itself sets comes after and holds.
    _tuned = "-c lock_timeout=20000 -c jit=off -c random_page_cost=1.1"
    _given = DATABASES["default"].setdefault("OPTIONS", {})
    _given["options"] = f"{_tuned} {_given.get('options', '')}".strip()

# What was worked out is kept in memory: a project alone may have two hundred forecasts.
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "OPTIONS": {"MAX_ENTRIES": 1000},
    }
}

# --- what goes on while its page is left -------------------------------------------------------

# Whether it is done beside the page at all; tests wait for it.
WORK_IN_BACKGROUND = True
QUEUE = os.environ.get("KEPTLINES_QUEUE", "")
if QUEUE:
    if QUEUE != "database":
        raise ImproperlyConfigured(
            f"KEPTLINES_QUEUE is {QUEUE!r}; it must be database, or not set."
        )
    if DATABASES["default"]["ENGINE"] == _SQLITE["ENGINE"]:
        raise ImproperlyConfigured(
            "KEPTLINES_QUEUE needs PostgreSQL, and the book is in SQLite, where the one process "
            "that serves it does all. Leave it out, or name the database by DATABASE_URL."
        )
    if find_spec("django_tasks_db") is None:
        raise ImproperlyConfigured(
            "KEPTLINES_QUEUE is set, and the library of the queue is not here. Fetch it: "
            "`.venv/bin/python -m pip install --require-hashes -r .lock/queue.txt`."
        )
    INSTALLED_APPS += ["django_tasks", "django_tasks_db"]
    TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}

# --- workers that solve a whole book, if there are any ----------------------------------------

WORKERS_AUTHORITY = os.environ.get("KEPTLINES_WORKERS_AUTHORITY", "")
WORKERS_CERTIFICATE = os.environ.get("KEPTLINES_WORKERS_CERTIFICATE", "")
WORKERS_KEY = os.environ.get("KEPTLINES_WORKERS_KEY", "")

# --- files, language, time -------------------------------------------------------------------

try:
    MEDIA_ROOT, _PICTURES = files.chosen(os.environ.get("KEPTLINES_PICTURES") or "", DATA / "media")
except ValueError as error:
    raise ImproperlyConfigured(f"KEPTLINES_PICTURES {error}") from error
if "OPTIONS" in _PICTURES and find_spec("storages") is None:
    raise ImproperlyConfigured(
        "KEPTLINES_PICTURES names a store of objects, and what speaks to one is not here. "
        "Fetch it: `.venv/bin/python -m pip install --require-hashes -r .lock/objects.txt`."
    )
STATIC_URL = "static/"
STATICFILES_DIRS = [ROOT / "static"]
STORAGES = {
    "default": _PICTURES,
    "staticfiles": {"BACKEND": "keeper.serving.static.FingerprintedStorage"},
}
FILE_UPLOAD_PERMISSIONS = 0o600
WHITENOISE_USE_FINDERS = True
WHITENOISE_MAX_AGE = 0 if DEBUG else 31_536_000
WHITENOISE_ALLOW_ALL_ORIGINS = False
if SERVE == "lan":
    # The public certificate a phone has to trust, offered like a static file.
    WHITENOISE_ROOT = DATA / "certificates" / "public"
WHITENOISE_MIMETYPES = {".crt": "application/x-x509-ca-cert"}
WHITENOISE_ADD_HEADERS_FUNCTION = keep_only_fingerprinted

LANGUAGE_CODE = "en-gb"
TIME_ZONE = os.environ.get("KEPTLINES_TIME_ZONE") or tzlocal.get_localzone_name() or "UTC"
USE_TZ = True

METRICS_TOKEN = os.environ.get("KEPTLINES_METRICS_TOKEN", "")
LOG_REQUESTS = os.environ.get("KEPTLINES_LOG") == "json"
_FORMAT = "json" if LOG_REQUESTS else "plain"
LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "plain": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"},
        "json": {
            "()": "pythonjsonlogger.json.JsonFormatter",
            "format": "{asctime}{levelname}{name}{message}",
            "style": "{",
        },
    },
    "handlers": {"terminal": {"class": "logging.StreamHandler", "formatter": _FORMAT}},
    "root": {"handlers": ["terminal"], "level": "WARNING"},
    "loggers": {
        "django": {"handlers": ["terminal"], "level": "WARNING", "propagate": False},
        "keeper.requests": {"level": "INFO"},
        # Requests for names that are not ours are refused; one line each would only be noise.
        "django.security.DisallowedHost": {"handlers": [], "level": "CRITICAL"},
    },
}
