from django.urls import path

from . import browse, data, plain

app_name = "browse"
urlpatterns = [
    path("", browse.home, name="home"),
    # /studies/
    path("studies/", browse.studies, name="studies"),
    path("studies/<int:pk>/", browse.study, name="study"),
    path("mine/", browse.mine, name="mine"),
    # /joints/<code>/
    path("joints/", browse.joints, name="joints"),
    path("joints/<slug:code>/", browse.joint, name="joint"),
    # /timbers/<code>/
    path("timbers/", browse.timbers, name="timbers"),
    path("timbers/<slug:code>/", browse.timber, name="timber"),
    # how it works
    path("methods/", plain.methods, name="methods"),
    path("data/", data.data, name="data"),
]
