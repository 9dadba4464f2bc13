"""Settings of the test run: those of the site, with a secret of its own and nothing kept."""

from __future__ import annotations

import os
import tempfile

os.environ.setdefault("SECRET_KEY", "for-tests-only")
os.environ.setdefault("DATA_DIR", tempfile.mkdtemp(prefix="breakbook-tests-"))
os.environ.setdefault("HTTPS", "False")

from results.site.settings import *  # noqa: F403
from results.site.settings import CACHES, DATABASES, INSTALLED_APPS, STORAGES

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    **STORAGES,
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
DATABASES["default"]["CONN_MAX_AGE"] = 0
# Runs beside each other have data of their own, so that they share no answers.
CACHES = {
    "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "default"},
    "process": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "process"},
    "answers": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "answers"},
    **{name: CACHES[name] for name in ("pages", "pages-asked")},
}
# The database's own queue is there for the tests that use it.
INSTALLED_APPS = [*dict.fromkeys([*INSTALLED_APPS, "django_tasks", "django_tasks_db"])]
