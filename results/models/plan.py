"""A plan of a test, lodged before the testing: what was promised, so that readers see what became of it."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import CheckConstraint, Q
from django.urls import reverse
from django.utils import timezone

from .constraints import one_of

SERIES_MOST, SPECIMENS_MOST = 12, 1_000
# What each part must be: a plan is read by pages that can't ask again.
_PARTS: dict[str, type] = {
    "form": int,
    "asked": list,
    "tests": str,
    "loading": str,
    "action": str,
    "lengths": dict,
    "sizes": dict,
    "timber": str,
    "adhesive": str,
    "instrument": str,
    "full_scale": str,
    "workshop": str,
    "ratio": float,
    "power": float,
    "cv": float,
    "cv_source": str,
    "n": int,
    "blocks": int,
    "seed": int,
    "series": list,
    "order": list,
}
_OF_SERIES = {"label": str, "joint": str, "n": int, "control": bool}
_WORDS = {int: "a whole number", float: "a number", str: "a text", list: "a list", dict: "an object", bool: "yes or no"}


def validate_planned(planned: object) -> None:
    """Refuse what is no plan.

    Raises
    ------
    ValidationError
        Naming the part that is missing or of the wrong kind.
    """
    if not isinstance(planned, dict):
        raise ValidationError("A plan must be an object of parts.")
    _check(planned, _PARTS, "a plan")
    series = planned["series"]
    if not 2 <= len(series) <= SERIES_MOST:
        raise ValidationError(f"A plan has {len(series)} series; it must have 2 to {SERIES_MOST}.")
    for one in series:
        if not isinstance(one, dict):
            raise ValidationError(f"A series of a plan is {one!r:.80}; it must be an object.")
        _check(one, _OF_SERIES, "a series of a plan")
    _check_order(planned["order"], {one["label"]: one["n"] for one in series})


def _check(found: dict[str, Any], parts: dict[str, type], what: str) -> None:
    for name, kind in parts.items():
        value = found.get(name)
        fits = isinstance(value, (int, float) if kind is float else kind) and (kind is bool) == isinstance(value, bool)
        if not fits:
            raise ValidationError(f"The part {name!r} of {what} is {value!r:.80}; it must be {_WORDS[kind]}.")


def _check_order(order: list[Any], counts: dict[str, int]) -> None:
    """Every specimen has its turn, and once."""
    if len(order) > SPECIMENS_MOST or not all(isinstance(run, list) and len(run) == 3 for run in order):
        raise ValidationError(f"The order must hold block, series and number of {SPECIMENS_MOST} specimens at most.")
    turns = sorted((str(series), number) for _, series, number in order)
    if turns != sorted((label, number) for label, n in counts.items() for number in range(1, n + 1)):
        raise ValidationError("The order must give every specimen of every series its turn, and once.")


class Plan(models.Model):
    """What somebody said they would test, and when they said it. It never changes; withdrawn, it stays readable."""

    class Status(models.TextChoices):
        LODGED = "lodged", "lodged"
        WITHDRAWN = "withdrawn", "withdrawn"

    # Of what was lodged, these alone may be said later.
    LATER = frozenset({"status", "withdrawn_reason", "withdrawn_at"})

    contributor = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="plans"
    )
    title = models.CharField(max_length=200)
    question = models.TextField(help_text="The question the test is to answer.")
    planned = models.JSONField(
        validators=[validate_planned], help_text="The parameters as asked, and what was worked out from them."
    )
    invented = models.BooleanField(default=False, help_text="Made up to show how the book works.")
    lodged_at = models.DateTimeField(default=timezone.now, editable=False)
    status = models.CharField(max_length=9, choices=Status.choices, default=Status.LODGED)
    withdrawn_reason = models.TextField(blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    # One key a page that offers lodging: sending it twice lodges once.
    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)

    class Meta:
        ordering = ["-lodged_at", "-id"]
        constraints = [
            one_of("status", ["lodged", "withdrawn"]),
            CheckConstraint(condition=~Q(title="") & ~Q(question=""), name="plan_says_what_and_why"),
            CheckConstraint(
                condition=Q(status="lodged", withdrawn_reason="", withdrawn_at__isnull=True)
                | (Q(status="withdrawn", withdrawn_at__isnull=False) & ~Q(withdrawn_reason="")),
                name="plan_withdrawn_has_reason_and_date",
            ),
        ]

    def __str__(self) -> str:
        return f"plan {self.pk}: {self.title}"

    def save(self, *args: Any, update_fields: Iterable[str] | None = None, **kwargs: Any) -> None:
        """Save it, or that it is withdrawn.

        Raises
        ------
        ValueError
            If anything else of a lodged plan would be changed.
        """
        if not self._state.adding and not (update_fields and set(update_fields) <= self.LATER):
            raise ValueError(f"A lodged plan can't be changed; only {', '.join(sorted(self.LATER))} may be said later.")
        super().save(*args, update_fields=update_fields, **kwargs)

    def get_absolute_url(self) -> str:
        return reverse("plans:plan", args=[self.pk])

    @property
    def is_withdrawn(self) -> bool:
        return self.status == self.Status.WITHDRAWN
