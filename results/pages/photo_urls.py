from django.urls import path

from . import photos

app_name = "photos"
urlpatterns = [
    # /photos/<uuid>.jpg
    path("photos/<uuid:pk>.jpg", photos.picture, name="picture"),
    path("photos/<uuid:pk>-small.jpg", photos.picture, {"small": True}, name="small"),
    # /studies/<study>/photos/
    path("studies/<int:pk>/photos/", photos.mine, name="mine"),
    path("studies/<int:pk>/photos/<uuid:photo>/", photos.one, name="one"),
    path("studies/<int:pk>/photos/<uuid:photo>/remove/", photos.take_out, name="remove"),
]
