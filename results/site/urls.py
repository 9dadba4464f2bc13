"""Where the parts are put together: pages under their paths, the read API under its version."""

from __future__ import annotations

from django.contrib import admin
from django.contrib.auth import views as auth
from django.urls import include, path

urlpatterns = [
    path("", include("results.pages.browse_urls")),
    path("compare/", include("results.pages.compare_urls")),
    path("data/", include("results.pages.data_urls")),
    path("submit/", include("results.pages.submit_urls")),
    path("login/", auth.LoginView.as_view(template_name="account/login.html"), name="login"),
    path("logout/", auth.LogoutView.as_view(), name="logout"),
    path("sign-up/", include("results.pages.account_urls")),
    path("api/v1/", include("api.urls")),
    path("admin/", admin.site.urls),
]
handler404 = "results.pages.errors.not_found"
