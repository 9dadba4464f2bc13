"""An empty view of the framework alone, with the middleware that a new project has: what `tests.bench.load` asks."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import path

SECRET_KEY = "for-the-bench-only"
ALLOWED_HOSTS = ["127.0.0.1"]
USE_TZ = True
ROOT_URLCONF = __name__
INSTALLED_APPS = [f"django.contrib.{name}" for name in ("auth", "contenttypes", "sessions", "messages")]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]


def empty(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


urlpatterns = [path("empty/", empty)]
