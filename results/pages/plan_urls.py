"""Planning a test: the page, what it gives to take along, and lodging."""

from django.urls import path

from results.site.whole import kept_whole

from . import plan, plan_lodge

app_name = "plan"
urlpatterns = [
    # /plan/
    path("", kept_whole(plan.plan_page), name="plan"),
    path("chart/<slug:name>.<slug:kind>", plan.chart, name="chart"),
    path("sheet/", plan.sheet, name="sheet"),
    path("spreadsheet/", plan.spreadsheet, name="spreadsheet"),
    path("lodge/", plan_lodge.lodge_page, name="lodge"),
]
