from django.urls import path

from . import compare, network

app_name = "compare"
urlpatterns = [
    # /compare/
    path("", compare.compare_page, name="compare"),
    path("chart/<slug:name>.<slug:kind>", compare.chart, name="chart"),
    path("embed/<slug:name>/", compare.embed, name="embed"),
    # /compare/network/
    path("network/", network.network_page, name="network"),
    path("network/<slug:name>.<slug:kind>", network.network_chart, name="network-chart"),
]
