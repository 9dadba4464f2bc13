from django.urls import path

from results.site.whole import kept_whole

from . import browse, choose, data, evidence_map, joint, plain, search, study, timber, workshop

app_name = "browse"
urlpatterns = [
    path("", kept_whole(browse.home), name="home"),
    path("chart/<slug:name>.<slug:kind>", browse.home_chart, name="home-chart"),
    # /studies/
    path("studies/", kept_whole(browse.studies), name="studies"),
    path("studies/<int:pk>/", study.study, name="study"),
    path("studies/<int:pk>/<slug:name>.<slug:kind>", study.study_chart, name="study-chart"),
    # /workshops/<name, as workshop_address writes it>/
    path("workshops/", kept_whole(workshop.workshops), name="workshops"),
    path("workshops/<str:address>/<slug:chart>.<slug:kind>", workshop.workshop_chart, name="workshop-chart"),
    path("workshops/<path:address>/", kept_whole(workshop.workshop), name="workshop"),
    path("mine/", browse.mine, name="mine"),
    # /joints/<code>/
    path("joints/", kept_whole(joint.joints), name="joints"),
    path("joints/<slug:code>/", kept_whole(joint.joint), name="joint"),
    path("joints/<slug:code>/chart/<slug:name>.<slug:kind>", joint.joint_chart, name="joint-chart"),
    # /timbers/<code>/
    path("timbers/", kept_whole(timber.timbers), name="timbers"),
    path("timbers/<slug:code>/", kept_whole(timber.timber), name="timber"),
    path("timbers/<slug:code>/chart/<slug:name>.<slug:kind>", timber.timber_chart, name="timber-chart"),
    # /evidence/
    path("evidence/", kept_whole(evidence_map.evidence), name="evidence"),
    # how it works
    path("methods/", kept_whole(plain.methods), name="methods"),
    path("methods/<slug:part>/", kept_whole(plain.methods_part), name="methods-part"),
    path("data/", data.data, name="data"),
    path("search/", search.search, name="search"),
    path("choose/", choose.choose, name="choose"),
]
