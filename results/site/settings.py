"""All settings, each once. Every value that differs between machines comes from the environment."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import dj_database_url
from django.core.exceptions import ImproperlyConfigured

from . import machines, mail, metrics, tasks
from .env import env_bool, env_choice, env_int, env_list, env_str, secret_key

BASE_DIR = Path(__file__).resolve().parent.parent.parent

# -- what kind of run ------------------------------------------------------------------------------
DEBUG = env_bool("DEBUG", False)
DEMO = env_bool("DEMO", False)
DATA_DIR = Path(env_str("DATA_DIR", str(BASE_DIR / "var")))
SECRET_KEY = secret_key(debug=DEBUG, demo=DEMO, data_dir=DATA_DIR)
ALLOWED_HOSTS = env_list("ALLOWED_HOSTS", ["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = env_list("CSRF_TRUSTED_ORIGINS", [])

# -- https: on unless this is a demo or a developer's machine --------------------------------------
HTTPS = env_bool("HTTPS", not (DEBUG or DEMO))
SECURE_SSL_REDIRECT = HTTPS
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_HSTS_SECONDS = env_int("HSTS_SECONDS", 31_536_000 if HTTPS else 0)
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_HSTS_PRELOAD = HTTPS
BEHIND_PROXY = env_bool("BEHIND_PROXY", False)
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
# With the prefix a browser takes the cookie from this host alone, and only over HTTPS.
COOKIE_PREFIX = "__Host-" if HTTPS else ""
SESSION_COOKIE_NAME = f"{COOKIE_PREFIX}sessionid"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_NAME = f"{COOKIE_PREFIX}csrftoken"
CSRF_COOKIE_HTTPONLY = True  # scripts take the token from the form that they send
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "results.pages.errors.csrf_failure"
# Everything comes from this host, and nothing stands in the pages themselves: no script, no style, no frame around.
SECURE_CSP: dict[str, list[str] | bool] = {
    "default-src": ["'none'"],
    "script-src": ["'self'"],
    "style-src": ["'self'"],
    "img-src": ["'self'", "data:", "blob:"],  # small drawings in styles; a picture before it is sent, or a chart saved
    "font-src": ["'self'"],
    "connect-src": ["'self'"],
    "form-action": ["'self'"],
    "frame-ancestors": ["'none'"],
    "base-uri": ["'none'"],
    "upgrade-insecure-requests": HTTPS,
}
# What no page here needs, whatever may once be brought into one.
PERMISSIONS_DENIED = [
    "accelerometer",
    "browsing-topics",
    "camera",
    "display-capture",
    "geolocation",
    "gyroscope",
    "hid",
    "magnetometer",
    "microphone",
    "midi",
    "payment",
    "publickey-credentials-get",
    "serial",
    "usb",
    "xr-spatial-tracking",
]

# -- parts -----------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "django_filters",
    "django_htmx",
    "rest_framework",
    "rest_framework.authtoken",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "django_linear_migrations",
    "results",
    "api",
]
MIDDLEWARE = [
    "results.site.watch.Watch",
    "django.middleware.security.SecurityMiddleware",
    "results.site.policies.Policies",
    "results.site.whole.KeptPages",
    "results.site.compression.CompressWhole",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "results.site.choices.AsChosen",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
]
ROOT_URLCONF = "results.site.urls"
WSGI_APPLICATION = "results.site.wsgi.application"
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
                "results.site.choices.offered",
            ],
        },
    }
]

# -- database: SQLite beside the code unless DATABASE_URL names another ---------------------------
DATABASES: dict[str, dict[str, Any]] = {
    "default": {
        **dj_database_url.parse(
            env_str("DATABASE_URL") or f"sqlite:///{DATA_DIR / 'breakbook.sqlite3'}",
            conn_max_age=env_int("CONN_MAX_AGE", 60),
            conn_health_checks=True,
        )
    }
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATA_DIR.mkdir(parents=True, exist_ok=True)
    DATABASES["default"]["OPTIONS"] = {
        # Writers queue for the lock at the start instead of failing half-way through.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA cache_size=-4000; "
        "PRAGMA mmap_size=268435456;",
    }
    machines.refuse_for_sqlite()
else:
    machines.finish_postgresql(DATABASES["default"])
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# -- replicas: what everybody may read is read from them, see `routing` ----------------------------
_REPLICAS = machines.replicas(DATABASES["default"], machines.replica_urls())
DATABASES |= _REPLICAS
REPLICAS = list(_REPLICAS)
REPLICA_LAG_MOST_S = machines.lag_most()
PRIMARY_READS_PCT = machines.read_share()
DATABASE_ROUTERS = ["results.site.routing.Router"] if REPLICAS else []
# The last, so that what a replica could not answer is asked of the primary before anybody is told.
MIDDLEWARE += ["results.site.routing.ReadFromReplicas"] if REPLICAS else []

# -- people ----------------------------------------------------------------------------------------
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "browse:home"
LOGOUT_REDIRECT_URL = "browse:home"
# Whoever signs up confirms the address before logging in; an account without one, made by staff, needs no confirming.
ACCOUNT_ADAPTER = "results.accounts.adapter.Adapter"
ACCOUNT_LOGIN_METHODS = {"username", "email"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "email*", "password1*", "password2*"]
ACCOUNT_SIGNUP_REDIRECT_URL = "submit:start"
ACCOUNT_REAUTHENTICATION_METHODS = ["password", "mfa"]  # for what needs to know anew who it is
ACCOUNT_EMAIL_VERIFICATION = "mandatory"
ACCOUNT_LOGIN_ON_EMAIL_CONFIRMATION = True  # in the browser that signed up, and nowhere else
ACCOUNT_EMAIL_CONFIRMATION_EXPIRE_DAYS = 3
ACCOUNT_EMAIL_CONFIRMATION_ANONYMOUS_REDIRECT_URL = "/login/"
ACCOUNT_EMAIL_NOTIFICATIONS = True  # of a changed password, address or second factor
ACCOUNT_EMAIL_SUBJECT_PREFIX = "Breakbook: "
ACCOUNT_CHANGE_EMAIL = True  # one address an account; the old one holds until the new one is confirmed
ACCOUNT_REAUTHENTICATION_REQUIRED = True
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_USERNAME_MIN_LENGTH = 2
ACCOUNT_USERNAME_BLACKLIST = ["admin", "administrator", "breakbook", "moderator", "reviewer", "root", "staff"]
PASSWORD_RESET_TIMEOUT = 24 * 60 * 60
ACCOUNT_FORMS = {
    "login": "results.pages.account_forms.LogIn",
    "signup": "results.pages.account_forms.SignUp",
    "add_email": "results.pages.account_forms.NewAddress",
    "change_password": "results.pages.account_forms.ChangePassword",
    "set_password": "results.pages.account_forms.SetPassword",
    "reset_password": "results.pages.account_forms.AskForReset",
    "reset_password_from_key": "results.pages.account_forms.ResetPassword",
    "reauthenticate": "results.pages.account_forms.PasswordAgain",
}
MFA_ADAPTER = "results.accounts.adapter.SecondFactor"
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]
MFA_TOTP_ISSUER = "Breakbook"
MFA_TOTP_TOLERANCE = 1  # a phone's clock may be half a minute off
MFA_ALLOW_UNVERIFIED_EMAIL = True  # the address in use is confirmed; a new one may wait beside a second factor
MFA_FORMS = {
    "authenticate": "results.pages.account_forms.Code",
    "reauthenticate": "results.pages.account_forms.CodeAgain",
    "activate_totp": "results.pages.account_forms.FirstCode",
}
# Tries in five minutes, over all processes (see the default cache): from an address, and from it at one name; signed
# in, at one's own account.
LIMIT_WINDOW_S = 300
ACCOUNT_RATE_LIMITS = {
    "login": f"60/{LIMIT_WINDOW_S}s/ip",
    "login_failed": f"30/{LIMIT_WINDOW_S}s/ip,5/{LIMIT_WINDOW_S}s/key",
    "signup": f"20/{LIMIT_WINDOW_S}s/ip",
    "confirm_email": f"1/{LIMIT_WINDOW_S // 2}s/key",
    "reset_password": f"20/{LIMIT_WINDOW_S}s/ip,3/{LIMIT_WINDOW_S}s/key",
    "reset_password_from_key": f"20/{LIMIT_WINDOW_S}s/ip",
    "change_password": f"10/{LIMIT_WINDOW_S}s/user",
    "manage_email": f"20/{LIMIT_WINDOW_S}s/user",
    "reauthenticate": f"10/{LIMIT_WINDOW_S}s/user",
}
# Behind a proxy the last address it adds is the reader's; without one the header is anybody's invention.
ALLAUTH_TRUSTED_PROXY_COUNT = 1 if BEHIND_PROXY else 0

# -- e-mail: printed where the server runs in a demonstration and while developing -----------------
globals().update(mail.settings(printed=DEBUG or DEMO))
DEFAULT_FROM_EMAIL = SERVER_EMAIL = env_str("EMAIL_FROM", "Breakbook <breakbook@localhost>")
# Where the site is found, for the links in e-mail that no reader's request is there to tell.
_HOST = (ALLOWED_HOSTS or ["localhost"])[0].lstrip("*.") or "localhost"
SITE_ADDRESS = env_str("SITE_ADDRESS", f"http{'s' if HTTPS else ''}://{_HOST}").rstrip("/")

# -- language, time, files -------------------------------------------------------------------------
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("de", "Deutsch (zum Teil)")]
LOCALE_PATHS = [BASE_DIR / "results" / "locale"]
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True
STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "results.static_finder.PlotlyFinder",
]
COLLECTED = not (DEBUG or DEMO)
STORAGES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if COLLECTED
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = not COLLECTED
WHITENOISE_AUTOREFRESH = DEBUG
MEDIA_ROOT = DATA_DIR / "media"
UPLOAD_MAX_MB = env_int("UPLOAD_MAX_MB", 20)  # a hundred thousand specimens with room for notes
PHOTO_MAX_MB = env_int("PHOTO_MAX_MB", 12)
PHOTOS_MOST = env_int("PHOTOS_MOST", 40)  # of one study
# Photos, uploads and releases: on this machine's disk, unless STORAGE_URL names a store that all machines reach.
if SHARED_STORE := machines.shared_store(env_str("STORAGE_URL")):
    STORAGES["default"] = {"BACKEND": "results.stored.Bucket", "OPTIONS": SHARED_STORE}
# A form of many specimens has many fields; the default of 1,000 would refuse an honest afternoon's work.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 20_000

# -- what is kept for a while: in the database for all processes (limits of accounts), by the process (allowances of
# the API, whole pages), and on disk for all processes of this machine (answers) --------------------
# Pages of each kind that a process keeps, those asked for last; 0 for none. See `whole`.
PAGES_KEPT = env_int("PAGES_KEPT", 300)
if PAGES_KEPT < 0:
    raise ImproperlyConfigured(f"PAGES_KEPT={PAGES_KEPT} can't be: it is a number of pages, or 0 for none.")
CACHES: dict[str, dict[str, Any]] = {
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "shared_cache",
        "OPTIONS": {"MAX_ENTRIES": 100_000},
    },
    "process": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "OPTIONS": {"MAX_ENTRIES": 20_000}},
    "answers": {
        "BACKEND": "results.answers.AnswerFiles",
        "LOCATION": DATA_DIR / "answers",
        "OPTIONS": {"MAX_ENTRIES": 2_000},
    },
    # Those of addresses with a query apart, of which anybody can think of any number.
    **{
        name: {
            "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
            "LOCATION": name,
            "OPTIONS": {"MAX_ENTRIES": PAGES_KEPT},
        }
        for name in ("pages", "pages-asked")
    },
}
# Where requests are counted that somebody may make in a minute: by the process, or for all machines together.
COUNTED_IN = "process"
if CACHE_URL := machines.cache_url():
    CACHES = machines.shared_caches(CACHE_URL, CACHES)
    COUNTED_IN = "counts"

# -- work in the background: what a change makes old is worked out anew by `manage.py db_worker`, or by whoever asks
# first where there is none ------------------------------------------------------------------------
BACKGROUND = env_choice("BACKGROUND", "off", ["off", "database"])
TASKS = {"default": {"BACKEND": f"{tasks.LIBRARY}.backends.immediate.ImmediateBackend"}}
if BACKGROUND == "database":
    INSTALLED_APPS += ["django_tasks", "django_tasks_db"]
    TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
# For so long a page may show the answer of before a change, marked as such.
STALE_MOST_S = env_int("STALE_MOST_S", 120)
if STALE_MOST_S < 0:
    raise ImproperlyConfigured(f"STALE_MOST_S={STALE_MOST_S} can't be: it is a time in s, or 0 for none.")
if BACKGROUND == "off":
    STALE_MOST_S = 0

# -- read API --------------------------------------------------------------------------------------
# Requests that one process of the server answers in a minute, or all of them with CACHE_URL: to an address, and to
# somebody with a token.
API_ANONYMOUS_PER_MINUTE = env_int("API_ANONYMOUS_PER_MINUTE", 300)
API_TOKEN_PER_MINUTE = env_int("API_TOKEN_PER_MINUTE", 3_000)
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "api.tokens.BearerToken",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.AllowAny"],
    "DEFAULT_RENDERER_CLASSES": [
        "api.renderers.JSONRenderer",
        "api.renderers.CSVRenderer",
        "api.renderers.NDJSONRenderer",
        "api.renderers.ParquetRenderer",
    ],
    "DEFAULT_PAGINATION_CLASS": "api.pagination.Pages",
    "DEFAULT_FILTER_BACKENDS": ["api.filters.StrictFilterBackend"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "api.errors.handler",
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
    "NUM_PROXIES": 1 if BEHIND_PROXY else 0,  # see the limits of accounts
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Breakbook read API",
    "VERSION": "1",
    "DESCRIPTION": "Break tests on woodworking joints, as tested and normalised. Physical numbers are in SI, and their "
    "names end in the unit. A parameter that isn't understood is refused by name, never passed over; "
    "one left empty is the same as not given.",
    "OAS_VERSION": "3.1.0",
    "SERVERS": [{"url": "/", "description": "this host"}],
    "POSTPROCESSING_HOOKS": ["api.openapi.operations.postprocess"],
    "ENABLE_DJANGO_DEPLOY_CHECK": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    # Without a validator named, the page would send the document to a host elsewhere.
    "SWAGGER_UI_SETTINGS": {"deepLinking": True, "validatorUrl": None, "docExpansion": "none"},
}

# -- watching: log, slow queries, counts; see `watch`, `probes` and `metrics` ----------------------
LOG_FORMAT = env_choice("LOG_FORMAT", "plain" if DEBUG or DEMO else "json", ["json", "plain"])
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"json": {"()": "results.site.log.JSONLines"}, "plain": {"()": "results.site.log.Plain"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": LOG_FORMAT}},
    "root": {
        "handlers": ["console"],
        "level": env_choice("LOG_LEVEL", "WARNING", ["DEBUG", "INFO", "WARNING", "ERROR", "CRITICAL"]),
    },
}
SLOW_QUERY_MS = env_int("SLOW_QUERY_MS", 500)  # 0 for none
if SLOW_QUERY_MS < 0:
    raise ImproperlyConfigured(f"SLOW_QUERY_MS={SLOW_QUERY_MS} can't be: it is a time in ms, or 0 for no such log.")
METRICS_TOKEN = metrics.token("METRICS_TOKEN", env_str("METRICS_TOKEN"))
METRICS_ALLOWED = metrics.networks("METRICS_ALLOWED", env_list("METRICS_ALLOWED", []))
