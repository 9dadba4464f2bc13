"""A plan of a test: how many specimens, in which order, beside which controls, on which rig."""

from __future__ import annotations

from typing import Any

from django.http import QueryDict

from results.models import Joint
from results.practice.asked import Asked
from results.practice.plan import plan
from results.practice.plan_asked import JOINTS, PlanAsked

from .. import planned
from ..openapi.parameters import codes, many, words
from .practice import Worked


class PlanATest(Worked):
    """The same plan as the page's, by the same parameters; nothing is lodged."""

    about = (
        "A plan of a test: specimens of each joint, order of testing, controls, loads to expect and the rig's limits."
    )
    name = "plan"

    @classmethod
    def forms(cls, query: QueryDict) -> list[Asked]:
        return [PlanAsked(query)]

    @classmethod
    def described(cls) -> list[dict[str, Any]]:
        about = f"Code of a joint to compare; {JOINTS[0]} to {JOINTS[1]} of them."
        joints = many("joint", words(codes(Joint)), about) | {"required": True}
        return [joints, *(one for one in super().described() if one["name"] != "joint")]

    def answer(self, asked: PlanAsked) -> dict[str, Any] | None:
        found = plan(asked)
        return None if found is None else planned.plan(found)
