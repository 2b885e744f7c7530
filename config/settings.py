"""Settings: everything comes from the environment, and what is left out is the safe choice.

`BATTERBOARD_MODE` is `local` (the default: one machine, plain http on the loopback address) or `production`
(https, everything strict, and nothing starts without its own secret key and host names).
DEVELOPERS.md lists every variable.
"""

from pathlib import Path

import environ
from django.core.exceptions import ImproperlyConfigured
from django.utils.translation import gettext_lazy as _

from config.secret_key import kept_secret_key

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()

MODE = env.str("BATTERBOARD_MODE", default="local")
if MODE not in ("local", "production"):
    raise ImproperlyConfigured(f"BATTERBOARD_MODE must be local or production, not {MODE[:40]!r}.")
LOCAL = MODE == "local"
VAR_DIR = Path(env.str("BATTERBOARD_VAR", default=str(BASE_DIR / "var")))
VAR_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)


def needed_in_production(name: str) -> str:
    """The value of a variable that production cannot do without."""
    value = env.str(name, default="").strip()
    if not value:
        raise ImproperlyConfigured(f"{name} must be set when BATTERBOARD_MODE is production.")
    return value


def listed(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


DEBUG = LOCAL and env.bool("BATTERBOARD_DEBUG", default=False)
if LOCAL:
    SECRET_KEY = env.str("SECRET_KEY", default="") or kept_secret_key(VAR_DIR / "secret_key")
    ALLOWED_HOSTS = listed(env.str("ALLOWED_HOSTS", default="localhost,127.0.0.1,[::1]"))
else:
    SECRET_KEY = needed_in_production("SECRET_KEY")
    ALLOWED_HOSTS = listed(needed_in_production("ALLOWED_HOSTS"))
CSRF_TRUSTED_ORIGINS = listed(env.str("CSRF_TRUSTED_ORIGINS", default=""))

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "axes",
    "csp",
    "django_htmx",
    "template_partials",
    "projects",
    "budget",
    "schedule",
    "decisions",
    "reports",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "config.guard.RefuseNul",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "projects.signin.middleware.AskWhoIsThere",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.i18n",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "projects.access.door_context",
            ],
        },
    }
]

# --- Database: SQLite beside the program, or PostgreSQL by DATABASE_URL -------------------------------------
DATABASE_URL = env.str("DATABASE_URL", default="")
DATABASES: dict[str, dict[str, object]] = {
    "default": dict(environ.Env.db_url_config(DATABASE_URL))
    if DATABASE_URL
    else {"ENGINE": "django.db.backends.sqlite3", "NAME": VAR_DIR / "batterboard.sqlite3"}
}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["OPTIONS"] = {
        # Writers queue at BEGIN instead of failing half way; readers never wait.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON;",
    }
else:
    DATABASES["default"].setdefault("CONN_MAX_AGE", 60)
    DATABASES["default"].setdefault("CONN_HEALTH_CHECKS", True)

# --- Accounts -----------------------------------------------------------------------------------------------
AUTH_USER_MODEL = "projects.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "sign_in"
PASSWORD_RESET_TIMEOUT = 60 * 60 * 24

# Five wrong passwords for one name from one address, then a wait. Success wipes the slate.
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_MINUTES = 10
AXES_COOLOFF_TIME = "projects.signin.throttle.cool_off"
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False
AXES_HTTP_RESPONSE_CODE = 429
AXES_LOCKOUT_CALLABLE = "projects.signin.throttle.please_wait"
AXES_CLIENT_IP_CALLABLE = "projects.signin.throttle.client_address"
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False

# --- Cookies and headers ------------------------------------------------------------------------------------
SESSION_COOKIE_AGE = 60 * 60 * 24 * 14
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = not LOCAL
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SECURE = not LOCAL
CSRF_FAILURE_VIEW = "config.faults.form_too_old"
SECURE_SSL_REDIRECT = not LOCAL and env.bool("BATTERBOARD_HTTPS_REDIRECT", default=True)
SECURE_HSTS_SECONDS = 0 if LOCAL else 60 * 60 * 24 * 365
SECURE_HSTS_INCLUDE_SUBDOMAINS = not LOCAL
SECURE_HSTS_PRELOAD = not LOCAL
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
BEHIND_PROXY = env.bool("BATTERBOARD_BEHIND_PROXY", default=False)
if BEHIND_PROXY:
    # Only behind a proxy that sets this header itself and drops a visitor's own.
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        # Charts place their own marks by style attributes; nothing else does.
        "style-src-attr": ["'unsafe-inline'"],
        "img-src": ["'self'", "data:", "blob:"],
        "font-src": ["'self'"],
        "connect-src": ["'self'"],
        "base-uri": ["'none'"],
        "form-action": ["'self'"],
        "frame-ancestors": ["'none'"],
    }
}

# --- Words and time -----------------------------------------------------------------------------------------
LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en", _("English")), ("en-gb", _("English (Britain)")), ("en-us", _("English (United States)"))]
LOCALE_PATHS = [BASE_DIR / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

# --- Files --------------------------------------------------------------------------------------------------
STATIC_URL = "/static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
# Locally the files are served from where they lie; production collects them under hashed names.
STATIC_ROOT = None if LOCAL else VAR_DIR / "static"
WHITENOISE_USE_FINDERS = LOCAL
WHITENOISE_AUTOREFRESH = DEBUG
WHITENOISE_ALLOW_ALL_ORIGINS = False
WHITENOISE_MAX_AGE = 0 if LOCAL else 60 * 60
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if LOCAL
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
# Uploads are handed out by a view that asks who is there; no web address leads to the folder.
MEDIA_ROOT = VAR_DIR / "uploads"
MEDIA_URL = ""
UPLOAD_MOST_BYTES = env.int("BATTERBOARD_UPLOAD_MB", default=10) * 1024 * 1024
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5_000
DATA_UPLOAD_MAX_NUMBER_FILES = 20

# --- Mail: to the console, unless a mail server is named -----------------------------------------------------
vars().update(env.email("EMAIL_URL", default="consolemail://"))
DEFAULT_FROM_EMAIL = env.str("DEFAULT_FROM_EMAIL", default="batterboard@localhost")

# --- Logging: to the console, what broke but not whose it was ------------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"plain": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "plain"}},
    "root": {"handlers": ["console"], "level": env.str("BATTERBOARD_LOG_LEVEL", default="INFO")},
    "loggers": {
        "django": {"handlers": ["console"], "level": "WARNING", "propagate": False},
        # A page that is not there may have a secret in its address; only what broke is written down.
        "django.request": {"level": "ERROR"},
        # Would write the name and address of whoever mistypes a password.
        "axes": {"handlers": ["console"], "level": "CRITICAL", "propagate": False},
        "waitress.queue": {"level": "ERROR"},
    },
}
