from django.urls import path

from . import data
from .changes_feed import Changes
from .release_files import release_file
from .token import token

app_name = "data"
urlpatterns = [
    # /data/changes.atom
    path("changes.atom", Changes(), name="changes"),
    path("token/", token, name="token"),
    # /data/releases/<name>/<file>
    path("releases/", data.releases, name="releases"),
    path("releases/<slug:name>/", data.release, name="release"),
    path("releases/<slug:name>/<str:file>", release_file, name="release-file"),
]
