"""Where the parts are put together: pages under their paths, the read API under its version."""

from __future__ import annotations

from django.contrib import admin
from django.templatetags.static import static
from django.urls import include, path
from django.utils.functional import lazy
from django.views.generic.base import RedirectView

urlpatterns = [
    path("", include("results.pages.browse_urls")),
    path("compare/", include("results.pages.compare_urls")),
    path("data/", include("results.pages.data_urls")),
    path("piece/", include("results.pages.piece_urls")),
    path("plan/", include("results.pages.plan_urls")),
    path("plans/", include("results.pages.plans_urls")),
    path("submit/", include("results.pages.submit_urls")),
    path("", include("results.pages.revisions_urls")),
    path("", include("results.pages.questions_urls")),
    path("", include("results.pages.photo_urls")),
    path("review/", include("results.pages.review_urls")),
    path("mine/rigs/", include("results.pages.rig_urls")),
    path("mine/notices/", include("results.pages.notices_urls")),
    path("", include("results.pages.account_urls")),
    path("api/v1/", include("api.urls")),
    path("admin/", admin.site.urls),
    # What browsers ask for beside pages that name no icon of their own.
    path("favicon.ico", RedirectView.as_view(url=lazy(static, str)("img/mark.svg"))),
]
handler400 = "results.pages.errors.bad_request"
handler403 = "results.pages.errors.refused"
handler404 = "results.pages.errors.not_found"
handler429 = "results.pages.errors.too_many"
handler500 = "results.pages.errors.broken"
