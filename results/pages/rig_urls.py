from django.urls import path

from . import calibrations, rigs

app_name = "rigs"
urlpatterns = [
    # /mine/rigs/
    path("", rigs.rigs, name="rigs"),
    path("new/", rigs.new, name="new"),
    path("<int:pk>/", rigs.rig, name="rig"),
    path("<int:pk>/edit/", rigs.edit, name="edit"),
    path("<int:pk>/delete/", rigs.delete, name="delete"),
    # /mine/rigs/<rig>/calibrations/
    path("<int:pk>/calibrations/new/", calibrations.new, name="calibrate"),
    path("<int:pk>/calibrations/<int:calibration>/delete/", calibrations.delete, name="delete-calibration"),
]
