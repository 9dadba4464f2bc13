"""Requests as this site has them: what its own middleware notes on one, and one of somebody who is logged in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.http import HttpRequest

if TYPE_CHECKING:  # the settings lead here, before there are records
    from django.contrib.auth.models import User

    from results.models import DataVersion

    from .choices import Choices


class Request(HttpRequest):
    """A request on which the middleware has noted what it found out; for annotations, none is ever made."""

    choices: Choices
    may_be_kept: bool
    read_from_primary: bool
    request_id: str
    version_seen: str
    whole_of: DataVersion | None


class SomebodysRequest(Request):
    """A request that a view behind `login_required` is asked by."""

    user: User
