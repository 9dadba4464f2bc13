"""What others ask about a study and doubt in it, and what was answered; it stays to be read."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, Q

from .constraints import one_of
from .series import Series
from .specimen import Specimen
from .study import Study


class Question(models.Model):
    """A question on a study, or a doubt about one of its series or specimens."""

    class Kind(models.TextChoices):
        QUESTION = "question", "question"
        DOUBT = "doubt", "doubt"

    class State(models.TextChoices):
        OPEN = "open", "open"
        RESOLVED = "resolved", "resolved"

    study = models.ForeignKey(Study, on_delete=models.CASCADE, related_name="questions")
    series = models.ForeignKey(Series, null=True, blank=True, on_delete=models.SET_NULL, related_name="questions")
    specimen = models.ForeignKey(Specimen, null=True, blank=True, on_delete=models.SET_NULL, related_name="questions")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    text = models.TextField()
    # Kept as words too, so that it can be read what was doubted after a revision took it out.
    about = models.CharField(max_length=200, blank=True, help_text="The series or specimen by its label.")
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="asked")
    asked_at = models.DateTimeField(auto_now_add=True)
    state = models.CharField(max_length=8, choices=State.choices, default=State.OPEN)
    resolved_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    resolved_at = models.DateTimeField(null=True, blank=True)
    resolution = models.TextField(blank=True, help_text="How it was resolved.")

    class Meta:
        ordering = ["asked_at", "id"]
        constraints = [
            one_of("kind", ["question", "doubt"]),
            one_of("state", ["open", "resolved"]),
            CheckConstraint(condition=~Q(text=""), name="question_says_something"),
            CheckConstraint(condition=~Q(state="resolved") | ~Q(resolution=""), name="question_resolved_says_how"),
        ]

    def __str__(self) -> str:
        return self.text[:60]


class Answer(models.Model):
    """Something said in answer to a question or a doubt."""

    question = models.ForeignKey(Question, on_delete=models.CASCADE, related_name="answers")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="answered")
    at = models.DateTimeField(auto_now_add=True)
    text = models.TextField()

    class Meta:
        ordering = ["at", "id"]
        constraints = [CheckConstraint(condition=~Q(text=""), name="answer_says_something")]

    def __str__(self) -> str:
        return self.text[:60]
