from django.urls import path

from . import compare

app_name = "compare"
urlpatterns = [
    # /compare/
    path("", compare.compare_page, name="compare"),
    path("figure.json", compare.figure, name="figure"),
]
