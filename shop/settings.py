"""Settings: everything a shop changes comes from the environment, with defaults for one PC and SQLite."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

import dj_database_url
from csp.constants import SELF
from django.core.management.utils import get_random_secret_key

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(os.environ.get("GAMBREL_DATA", BASE_DIR / "var"))
DATA_DIR.mkdir(parents=True, exist_ok=True)


def _flag(name: str, default: bool) -> bool:
    return os.environ.get(name, str(int(default))).lower() in {"1", "true", "yes", "on"}


def _secret_key() -> str:
    """The key from the environment, or one made on first start and kept beside the data."""
    if key := os.environ.get("SECRET_KEY"):
        return key
    path = DATA_DIR / "secret_key"
    if not path.exists():
        # Written aside and linked in place whole: of two processes that start together, one wins.
        with tempfile.NamedTemporaryFile("w", dir=DATA_DIR) as draft:
            draft.write(get_random_secret_key())
            draft.flush()
            with suppress(FileExistsError):
                os.link(draft.name, path)
    return path.read_text()


SECRET_KEY = _secret_key()
DEBUG = _flag("DEBUG", False)
ALLOWED_HOSTS = os.environ.get("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
CSRF_TRUSTED_ORIGINS = [origin for origin in os.environ.get("TRUSTED_ORIGINS", "").split(",") if origin]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "django_tables2",
    "csp",
    "shop",
    "labels",
    "orders",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "shop.sending.SendingMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "shop.access.DeviceMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "shop.access.RoleMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
]

ROOT_URLCONF = "shop.urls"
WSGI_APPLICATION = "shop.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shop.context.shop",
            ],
            "builtins": ["shop.templatetags.gambrel"],
        },
    }
]

DATABASES = {
    "default": dj_database_url.parse(
        os.environ.get("DATABASE_URL") or f"sqlite:///{DATA_DIR / 'gambrel.sqlite3'}",
        conn_max_age=0,
        conn_health_checks=False,
    )
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # Writers queue instead of failing, and an acknowledged scan survives a power cut.
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 5,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
    }
    # A file: the in-memory database loses updates between threads.
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}
else:
    DATABASES["default"]["CONN_MAX_AGE"] = 60
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "shop.Person"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 8}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "login"
SESSION_COOKIE_AGE = 60 * 60 * 14
SESSION_COOKIE_SAMESITE = "Lax"
# The shop's own network speaks plain http by default; set both behind https.
SESSION_COOKIE_SECURE = _flag("HTTPS", False)
CSRF_COOKIE_SECURE = _flag("HTTPS", False)

LANGUAGE_CODE = "en-us"
TIME_ZONE = os.environ.get("SHOP_TIME_ZONE", "America/Denver")
USE_TZ = True
USE_I18N = True

STATIC_URL = "static/"
STATIC_ROOT = Path(os.environ.get("STATIC_ROOT", DATA_DIR / "static"))
# Whitenoise warns of a folder that is not there.
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
MEDIA_ROOT = DATA_DIR / "media"
PRINT_ROOT = DATA_DIR / "print"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if _flag("HASHED_STATIC", False)
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = not _flag("HASHED_STATIC", False)
FIXTURE_ROOT = BASE_DIR / "fixtures"

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:"],
        "object-src": ["'none'"],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [SELF],
    }
}
X_FRAME_OPTIONS = "SAMEORIGIN"
SECURE_CROSS_ORIGIN_OPENER_POLICY = None

DJANGO_TABLES2_TEMPLATE = "tables/table.html"

REDIS_URL = os.environ.get("REDIS_URL", "")
CELERY_BROKER_URL = REDIS_URL or None
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE = {"sweep-jobs": {"task": "shop.tasks.sweep", "schedule": 10.0}}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {"gambrel": {"level": "INFO"}},
}
