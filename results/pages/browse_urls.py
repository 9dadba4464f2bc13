from django.urls import path

from . import browse, data, evidence_map, joint, plain, search, study, timber, workshop

app_name = "browse"
urlpatterns = [
    path("", browse.home, name="home"),
    path("chart/<slug:name>.<slug:kind>", browse.home_chart, name="home-chart"),
    # /studies/
    path("studies/", browse.studies, name="studies"),
    path("studies/<int:pk>/", study.study, name="study"),
    path("studies/<int:pk>/<slug:name>.<slug:kind>", study.study_chart, name="study-chart"),
    # /workshops/<name, as workshop_address writes it>/
    path("workshops/", workshop.workshops, name="workshops"),
    path("workshops/<str:address>/<slug:chart>.<slug:kind>", workshop.workshop_chart, name="workshop-chart"),
    path("workshops/<path:address>/", workshop.workshop, name="workshop"),
    path("mine/", browse.mine, name="mine"),
    # /joints/<code>/
    path("joints/", joint.joints, name="joints"),
    path("joints/<slug:code>/", joint.joint, name="joint"),
    path("joints/<slug:code>/chart/<slug:name>.<slug:kind>", joint.joint_chart, name="joint-chart"),
    # /timbers/<code>/
    path("timbers/", timber.timbers, name="timbers"),
    path("timbers/<slug:code>/", timber.timber, name="timber"),
    path("timbers/<slug:code>/chart/<slug:name>.<slug:kind>", timber.timber_chart, name="timber-chart"),
    # /evidence/
    path("evidence/", evidence_map.evidence, name="evidence"),
    # how it works
    path("methods/", plain.methods, name="methods"),
    path("methods/<slug:part>/", plain.methods_part, name="methods-part"),
    path("data/", data.data, name="data"),
    path("search/", search.search, name="search"),
]
