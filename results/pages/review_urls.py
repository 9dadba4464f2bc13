from django.urls import path

from . import review

app_name = "review"
urlpatterns = [
    # /review/<revision's number in the book>/
    path("", review.queue, name="queue"),
    path("<int:pk>/", review.revision, name="revision"),
]
