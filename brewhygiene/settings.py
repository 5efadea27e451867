"""Settings: safe defaults for one brewery's own network, changed through the environment.

Read from the environment: ``PORT`` and ``HTTPS_PORT`` (read by ``manage.py serve``),
``DATABASE_URL``, ``SECRET_KEY``, ``ALLOWED_HOSTS`` (comma-separated), ``DEBUG`` (``1`` for the
contributor), ``TLS_DIR``, ``TLS_NAMES``, ``TLS_CERT`` and ``TLS_KEY`` (the certificate of HTTPS),
``HTTPS`` (``1`` when a proxy in the building terminates TLS instead; ``TRUSTED_PROXY``, read by
``manage.py serve``, is its address if that is not this machine's), ``DATA_DIR`` (where the
database, the generated secret key and photos are kept), ``BACKUP_DIR`` (where archives are kept)
and ``BACKUP_PASSPHRASE_FILE`` (to encrypt them).
"""

import os
import secrets
import sys
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

import dj_database_url
from csp.constants import NONE, SELF

# Before NumPy is there: its linear algebra would start a thread for each core beside the server's
# own, and on a busy machine those wait for each other many times as long as they work.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(os.environ.get("DATA_DIR", BASE_DIR / "var")).resolve()
DEBUG = os.environ.get("DEBUG") == "1"
# The page that shows every part of a page, for contributors.
SHOW_PARTS = DEBUG


def _make_data_folder() -> None:
    """For the server's account alone; what is wrong with it is said by the command that starts."""
    if sys.argv[1:2] != ["restore"]:
        with suppress(OSError):
            DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)


def _secret_key() -> str:
    """The key from the environment, or one generated once and kept beside the database."""
    if key := os.environ.get("SECRET_KEY"):
        return key
    path = DATA_DIR / "secret_key"
    if not path.exists():
        if sys.argv[1:2] == ["restore"]:
            # The archive brings the key; the folder has to stay empty for it.
            return secrets.token_urlsafe(48)
        # Written aside (readable by its owner only) and then linked: of two processes that start
        # together one gives the key, and neither reads half of it.
        try:
            with tempfile.NamedTemporaryFile("w", dir=DATA_DIR, encoding="ascii") as draft:
                draft.write(secrets.token_urlsafe(48))
                draft.flush()
                with suppress(FileExistsError):
                    os.link(draft.name, path)
        except OSError as error:
            raise SystemExit(
                f"{DATA_DIR} cannot be written to ({error.strerror}). Name a folder as DATA_DIR "
                "that has room and that the server's account may write to."
            ) from None
    return path.read_text(encoding="ascii").strip()


_make_data_folder()
# Whether this process is the first in this folder.
SECRET_KEY_IS_NEW = not (DATA_DIR / "secret_key").exists()
SECRET_KEY = _secret_key()
# Where archives are kept by age, the daily one included; best on another disk or machine.
BACKUP_DIR = Path(os.environ.get("BACKUP_DIR") or DATA_DIR / "backups").resolve()
# A file whose first line is a passphrase: every archive is encrypted with it.
BACKUP_PASSPHRASE_FILE = os.environ.get("BACKUP_PASSPHRASE_FILE", "")

# Tablets reach the server by whatever name or number the building's network gives it, so
# any host is served unless the site says otherwise; no link is ever built from the Host header, and
# the labels at the tanks carry the address that the brewery has settled on.
ALLOWED_HOSTS = [h for h in os.environ.get("ALLOWED_HOSTS", "*").split(",") if h]

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "axes",
    "csp",
    "brewhygiene",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "brewhygiene.certificates.leading.MayAskOverHttps",
    "brewhygiene.certificates.cookies.CookiesByScheme",
    "brewhygiene.health.middleware.NoStoreMiddleware",
    "brewhygiene.health.middleware.ClockMiddleware",
    "brewhygiene.board.live.LiveMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "brewhygiene.certificates.cookies.SessionsByScheme",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "brewhygiene.people.signing_in.resting.RestingMiddleware",
    "brewhygiene.delivery.middleware.DeliveryMiddleware",
    "brewhygiene.people.signing_in.middleware.SignInFirst",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "brewhygiene.brewery.middleware.BreweryMiddleware",
    "brewhygiene.brewery.middleware.StyleMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "brewhygiene.urls"
WSGI_APPLICATION = "brewhygiene.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "brewhygiene.brewery.context.brewery",
                "brewhygiene.people.context.permissions",
                "brewhygiene.certificates.leading.way_over",
            ],
            "builtins": ["brewhygiene.templatetags.everywhere"],
        },
    },
]


def _database() -> Any:
    url = os.environ.get("DATABASE_URL") or f"sqlite:///{DATA_DIR / 'brewhygiene.sqlite3'}"
    config = dj_database_url.parse(url, conn_max_age=600, conn_health_checks=True)
    if config["ENGINE"].endswith("sqlite3"):
        config.setdefault("OPTIONS", {}).update(
            {
                # Writers queue at BEGIN instead of failing half-way through a transaction.
                "transaction_mode": "IMMEDIATE",
                "timeout": 20,
                # The cache is each thread's own: 4 MiB times eight. What does not fit is read again
                # from the system's cache of the file, which is nobody's memory.
                "init_command": (
                    "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
                    "PRAGMA cache_size=-4096; PRAGMA temp_store=MEMORY;"
                ),
            }
        )
    return config


DATABASES = {"default": _database()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "brewhygiene.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
    "brewhygiene.people.signing_in.backends.PinBackend",
]
PASSWORD_HASHERS = [
    "brewhygiene.people.signing_in.hashers.LeanArgon2Hasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "full_name")},
    },
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "people:sign_in"
LOGIN_REDIRECT_URL = "board:board"
LOGOUT_REDIRECT_URL = "people:sign_in"
# Offered at sign-in while the brewery is the invented one: (username, password, role) each.
DEMO_SIGN_INS = "brewhygiene.demo.people.DEMO_SIGN_INS"
# Their PINs by username, for changing hands.
DEMO_PINS = "brewhygiene.demo.people.DEMO_PINS"

# Several people share one tablet and so one address: lock the pair, never the tablet alone.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25  # hours
# A further try during the wait does not begin it again.
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "people/signing_in/locked_out.html"
AXES_VERBOSE = False
# It keeps what was sent with a failed attempt; these are masked, as "password" always is.
AXES_SENSITIVE_PARAMETERS = [
    "username",
    "ip_address",
    "csrfmiddlewaretoken",
    "pin",
    "new_pin",
    "new_pin_again",
    "new_password",
    "new_password_again",
]
# A deploy check of its own: pages are served on the building's network, where no proxy is.
SILENCED_SYSTEM_CHECKS = ["axes.W006"]

SESSION_COOKIE_AGE = 60 * 60 * 14  # one long shift
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = False
# A proxy in the building terminates TLS; then this server has no port of its own for it.
BEHIND_PROXY = os.environ.get("HTTPS") == "1"
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    SECURE_HSTS_SECONDS = 60 * 60 * 24 * 30
else:
    # Browsers heed it over TLS only, and complain of it in their console otherwise.
    SECURE_CROSS_ORIGIN_OPENER_POLICY = None
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "base-uri": [NONE],
    },
}

LANGUAGE_CODE = "en"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"  # each brewery's own zone is activated per request

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "brewhygiene.bundles.PlotlyFinder",
    "brewhygiene.bundles.FontFinder",
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "django.contrib.staticfiles.storage.StaticFilesStorage"
            if DEBUG
            else "brewhygiene.bundles.HashedStorage"
        )
    },
}
WHITENOISE_MAX_AGE = 60
MEDIA_ROOT = DATA_DIR / "photos"
MEDIA_URL = "photos/"
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}

# The authority and certificate of HTTPS, made by the first start; or a certificate of the site's
# own, its key in a file apart or in the same one; and what else tablets call this machine by.
TLS_DIR = Path(os.environ.get("TLS_DIR") or DATA_DIR / "tls").resolve()
TLS_CERT = os.environ.get("TLS_CERT", "")
TLS_KEY = os.environ.get("TLS_KEY", "")
TLS_NAMES = [n.strip() for n in os.environ.get("TLS_NAMES", "").split(",") if n.strip()]

# Where the ledger's heads are signed and where they go; see DEVELOPERS.md. The key lies apart from
# the database, and best on another disk: whoever has both can rewrite what no head outside covers.
LEDGER_KEY_DIR = Path(os.environ.get("LEDGER_KEY_DIR") or DATA_DIR / "ledger_key").resolve()
HEADS_DIR = os.environ.get("HEADS_DIR", "")
HEADS_MAIL_TO = [a.strip() for a in os.environ.get("HEADS_MAIL_TO", "").split(",") if a.strip()]
if mail_host := os.environ.get("EMAIL_HOST"):
    EMAIL_HOST = mail_host
    EMAIL_PORT = int(os.environ.get("EMAIL_PORT") or 25)
    EMAIL_HOST_USER = os.environ.get("EMAIL_HOST_USER", "")
    EMAIL_HOST_PASSWORD = os.environ.get("EMAIL_HOST_PASSWORD", "")
    EMAIL_USE_TLS = os.environ.get("EMAIL_USE_TLS") == "1"
    EMAIL_TIMEOUT = 10
    DEFAULT_FROM_EMAIL = os.environ.get("EMAIL_FROM") or "ledger@localhost"
