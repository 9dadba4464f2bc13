from django.urls import path

from . import revisions, standing

app_name = "revisions"
urlpatterns = [
    # /studies/<study>/
    path("studies/<int:pk>/hand-in/", standing.hand_in, name="hand-in"),
    path("studies/<int:pk>/take-back/", standing.take_back, name="take-back"),
    # /studies/<study>/revisions/
    path("studies/<int:pk>/revisions/", revisions.revisions, name="revisions"),
    path("studies/<int:pk>/revisions/<int:number>/", revisions.revision, name="revision"),
    path("studies/<int:pk>/revisions/<int:number>/restore/", revisions.restore, name="restore"),
    path("studies/<int:pk>/revisions/<int:before>/<int:after>/", revisions.compare, name="compare"),
]
