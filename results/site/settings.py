"""All settings, each once. Every value that differs between machines comes from the environment."""

from __future__ import annotations

from pathlib import Path

import dj_database_url

from .env import env_bool, env_int, env_list, env_str, secret_key

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
if env_bool("BEHIND_PROXY", False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

# -- parts -----------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_filters",
    "django_htmx",
    "rest_framework",
    "rest_framework.authtoken",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "results",
    "api",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "results.site.compression.CompressWhole",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
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
            ],
        },
    }
]

# -- database: SQLite beside the code unless DATABASE_URL names another ---------------------------
DATABASES = {
    "default": dj_database_url.parse(
        env_str("DATABASE_URL") or f"sqlite:///{DATA_DIR / 'breakbook.sqlite3'}",
        conn_max_age=env_int("CONN_MAX_AGE", 60),
        conn_health_checks=True,
    )
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATA_DIR.mkdir(parents=True, exist_ok=True)
    DATABASES["default"]["OPTIONS"] = {
        # Writers queue for the lock at the start instead of failing half-way through.
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA cache_size=-4000;",
    }
else:
    # Answers here are short: compiling a query, or sharing it among processes, takes longer than it saves.
    DATABASES["default"].setdefault("OPTIONS", {}).setdefault(
        "options", "-c jit=off -c max_parallel_workers_per_gather=0"
    )
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# -- people ----------------------------------------------------------------------------------------
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

# -- language, time, files -------------------------------------------------------------------------
LANGUAGE_CODE = "en"
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
STORAGES = {
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
UPLOAD_MAX_MB = env_int("UPLOAD_MAX_MB", 10)
# A form of many specimens has many fields; the default of 1,000 would refuse an honest afternoon's work.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 20_000

# -- answers kept: by the process, and on disk for all processes of this machine -------------------
CACHES = {
    "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "OPTIONS": {"MAX_ENTRIES": 20_000}},
    "answers": {
        "BACKEND": "results.answers.AnswerFiles",
        "LOCATION": DATA_DIR / "answers",
        "OPTIONS": {"MAX_ENTRIES": 2_000},
    },
}

# -- read API --------------------------------------------------------------------------------------
# Requests that one process of the server answers in a minute: to an address, and to somebody with a token.
API_ANONYMOUS_PER_MINUTE = env_int("API_ANONYMOUS_PER_MINUTE", 300)
API_TOKEN_PER_MINUTE = env_int("API_TOKEN_PER_MINUTE", 3_000)
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "api.tokens.BearerToken",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.AllowAny"],
    "DEFAULT_RENDERER_CLASSES": [
        "rest_framework.renderers.JSONRenderer",
        "api.renderers.CSVRenderer",
        "api.renderers.NDJSONRenderer",
        "api.renderers.ParquetRenderer",
    ],
    "DEFAULT_PAGINATION_CLASS": "api.pagination.Pages",
    "DEFAULT_FILTER_BACKENDS": ["api.filters.StrictFilterBackend"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "api.errors.handler",
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
    # Behind a proxy the last address it adds is the reader's; without one the header is anybody's invention.
    "NUM_PROXIES": 1 if env_bool("BEHIND_PROXY", False) else 0,
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

# -- log -------------------------------------------------------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": env_str("LOG_LEVEL", "WARNING")},
}
