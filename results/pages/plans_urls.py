"""Plans that were lodged."""

from django.urls import path

from . import plans

app_name = "plans"
urlpatterns = [
    # /plans/
    path("", plans.plans, name="plans"),
    # /plans/<number>/
    path("<int:pk>/", plans.plan, name="plan"),
    path("<int:pk>/sheet/", plans.sheet, name="sheet"),
    path("<int:pk>/spreadsheet/", plans.spreadsheet, name="spreadsheet"),
    path("<int:pk>/withdraw/", plans.withdraw, name="withdraw"),
]
