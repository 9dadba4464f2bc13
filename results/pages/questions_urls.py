from django.urls import path

from . import questions

app_name = "questions"
urlpatterns = [
    # /studies/<study>/ask/
    path("studies/<int:pk>/ask/", questions.ask, name="ask"),
    # /questions/<question>/
    path("questions/<int:pk>/answer/", questions.answer, name="answer"),
    path("questions/<int:pk>/resolve/", questions.resolve, name="resolve"),
]
