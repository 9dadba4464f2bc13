from django.urls import path

from . import browse, data, joint, plain, study, timber

app_name = "browse"
urlpatterns = [
    path("", browse.home, name="home"),
    # /studies/
    path("studies/", browse.studies, name="studies"),
    path("studies/<int:pk>/", study.study, name="study"),
    path("mine/", browse.mine, name="mine"),
    # /joints/<code>/
    path("joints/", joint.joints, name="joints"),
    path("joints/<slug:code>/", joint.joint, name="joint"),
    # /timbers/<code>/
    path("timbers/", timber.timbers, name="timbers"),
    path("timbers/<slug:code>/", timber.timber, name="timber"),
    # how it works
    path("methods/", plain.methods, name="methods"),
    path("data/", data.data, name="data"),
]
