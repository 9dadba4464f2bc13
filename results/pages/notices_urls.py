from django.urls import path

from . import notices

app_name = "notices"
urlpatterns = [
    # /mine/notices/
    path("", notices.mine, name="mine"),
    path("<int:pk>/", notices.go, name="go"),
    path("<uuid:key>.atom", notices.Mine(), name="feed"),
]
