from django.urls import path

from results.site.whole import kept_whole

from . import compare, network

app_name = "compare"
urlpatterns = [
    # /compare/
    path("", kept_whole(compare.compare_page), name="compare"),
    path("chart/<slug:name>.<slug:kind>", compare.chart, name="chart"),
    path("embed/<slug:name>/", kept_whole(compare.embed), name="embed"),
    # /compare/network/
    path("network/", kept_whole(network.network_page), name="network"),
    path("network/<slug:name>.<slug:kind>", network.network_chart, name="network-chart"),
]
