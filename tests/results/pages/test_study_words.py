"""Small words on pages: who is the control, who may log in, what follows what in lists."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from results.evidence import restate
from results.intake.words import Words
from results.models import Timber
from tests.factories import make_user

from .shops import a_shop, text

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("vocabulary")]


def test_study_says_which_series_is_the_control(client):
    study = a_shop()
    butt, tenon = study.series.get(label="butt"), study.series.get(label="mt_blind")
    tenon.control = butt
    tenon.save()
    restate(study)

    shown = text(client.get(study.get_absolute_url()))

    assert shown.count("No ratio to control : this series is the control") == 1
    assert "missing: a control in the same study" not in shown


def test_study_names_every_landmark_differently(client):
    study = a_shop()

    page = client.get(study.get_absolute_url()).content.decode()

    names = re.findall(r'role="region" aria-label="([^"]*)"', page)
    assert {"Sizes and condition of butt", "Sizes and condition of mt_blind"} <= set(names)
    assert len(names) == len(set(names))


def test_not_found_asks_only_strangers_to_log_in(client):
    asked = f'<a href="{reverse("login")}?next=/studies/99999/">Log in</a> if it is your own'

    assert asked in client.get("/studies/99999/").content.decode()
    client.force_login(make_user())
    page = client.get("/studies/99999/")
    assert page.status_code == 404
    assert "Log in" not in page.content.decode()


def test_timbers_follow_the_alphabet_in_every_list(client):
    client.force_login(make_user())
    in_order = sorted(Timber.objects.values_list("name", flat=True), key=str.casefold)
    assert in_order.index("Ash, green") < in_order.index("Ash, Oregon") < in_order.index("Ash, white")

    choices = client.get(reverse("browse:studies")).context["form"].fields["timber"].choices
    assert [label for value, label in choices if value] == in_order
    assert [one.name for one in client.get(reverse("browse:timbers")).context["timbers"]] == in_order
    assert client.get(reverse("submit:form")).context["shown"].timbers == in_order
    assert [one.name for one in Words().rows("Timber")] == in_order
