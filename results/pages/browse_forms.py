"""What studies and timbers can be searched by; every value that can't be used is named."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Model, Q, QuerySet

from results.models import Joint, Loading, Study, Timber
from results.models.alphabet import Alphabetical

from .errors import BadParameter


class Narrowing(forms.Form):
    """A form in an address: it narrows rows, or says which parameter can't be used."""

    # Parameters that the page reads itself.
    BESIDE: tuple[str, ...] = ("page",)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **kwargs})

    def narrow(self, rows: QuerySet) -> QuerySet:
        """The rows that match.

        Raises
        ------
        BadParameter
            For an unknown parameter, or the first value that can't be used.
        """
        for name in self.data:
            if name not in self.fields and name not in self.BESIDE:
                allowed = ", ".join([*self.fields, *self.BESIDE])
                raise BadParameter(name, self.data[name], f"is no parameter here; there are {allowed}.")
        if not self.is_valid():
            name, messages = next(iter(self.errors.items()))
            raise BadParameter(name, self.data.get(name, ""), f"can't be used: {messages[0]}")
        return self.matching(rows)

    def matching(self, rows: QuerySet) -> QuerySet:
        raise NotImplementedError


def _pick(model: type[Model], label: str, name: str) -> forms.ModelChoiceField:
    return forms.ModelChoiceField(
        model._default_manager.order_by(Alphabetical()),
        required=False,
        label=label,
        empty_label="any",
        error_messages={"invalid_choice": f"there is no {name} of that code in the vocabulary."},
    )


class StudyFilter(Narrowing):
    q = forms.CharField(required=False, max_length=100, label="Words in title, question or workshop")
    joint = _pick(Joint, "Joint", "joint")
    timber = _pick(Timber, "Timber", "timber")
    action = forms.ChoiceField(required=False, choices=[("", "any"), *Loading.ACTIONS], label="Tested in")
    invented = forms.ChoiceField(
        required=False, choices=[("", "with"), ("without", "without")], label="Invented studies"
    )

    def matching(self, rows: QuerySet) -> QuerySet:
        asked = self.cleaned_data
        for word in asked["q"].split():
            rows = rows.filter(Q(title__icontains=word) | Q(question__icontains=word) | Q(workshop__icontains=word))
        # One series has to be of the joint, in the timber and under the action, all at once.
        of_series = {
            field: asked[name]
            for name, field in (
                ("joint", "series__joint"),
                ("timber", "series__timber"),
                ("action", "series__setup__loading__action"),
            )
            if asked[name]
        }
        if of_series:
            rows = rows.filter(pk__in=Study.objects.filter(**of_series).values("pk"))
        return rows.filter(invented=False) if asked["invented"] else rows


class TimberFilter(Narrowing):
    BESIDE = ()
    q = forms.CharField(required=False, max_length=100, label="Name, common or scientific")
    group = forms.ChoiceField(
        required=False,
        choices=[("", "any"), ("hardwood", "hardwood"), ("softwood", "softwood")],
        label="Group",
    )

    def matching(self, rows: QuerySet) -> QuerySet:
        asked = self.cleaned_data
        for word in asked["q"].split():
            rows = rows.filter(Q(name__icontains=word) | Q(scientific_name__icontains=word) | Q(code__icontains=word))
        return rows.filter(group=asked["group"]) if asked["group"] else rows
