"""For a piece: what it asks, what a joint bears, the margin, and what several joints, long members and seasons do."""

from __future__ import annotations

from typing import Any, ClassVar

from django.http import QueryDict
from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from results.practice import margin as margins
from results.practice.asked import Asked
from results.practice.joint import JointAsked, bears
from results.practice.leverage import LeverageAsked
from results.practice.movement import MovementAsked
from results.practice.piece import PieceAsked
from results.practice.share import ShareAsked
from stats.errors import StatsError
from stats.practice.caution import caution
from stats.practice.demand import PIECES
from stats.practice.shops import TooThin

from .. import practised
from ..errors import BadParameters, Fault, TooThinToSay, shorten
from ..openapi.parameters import of_form
from ..renderers import JSONRenderer
from .open import OpenView


class Worked(OpenView):
    """An answer worked out from an address's parameters, with its working and its cautions; as JSON."""

    about: ClassVar[str]
    name: ClassVar[str]
    renderer_classes = [JSONRenderer]

    @classmethod
    def forms(cls, query: QueryDict) -> list[Asked]:
        """The forms that read the parameters."""
        raise NotImplementedError

    @classmethod
    def described(cls) -> list[dict[str, Any]]:
        """The parameters as OpenAPI describes them; those of all kinds of piece."""
        found: dict[str, dict[str, Any]] = {}
        for query in cls.examples():
            for form in cls.forms(QueryDict(query)):
                found |= {one["name"]: one for one in of_form(form)}
        return list(found.values())

    @classmethod
    def examples(cls) -> list[str]:
        """Addresses whose forms hold all the parameters there are."""
        return [""]

    def answer(self, *forms: Any) -> dict[str, Any] | None:
        """All of it as JSON has it; None where a form says what can't be used.

        Raises
        ------
        TooThin
            If no figure is drawn from so little.
        StatsError
            If what was asked can't be worked out; where the message names a parameter it is that one's fault.
        """
        raise NotImplementedError

    def get(self, request: Request, **kwargs: Any) -> HttpResponseBase:
        query = request.query_params.copy()
        query.pop("format", None)
        return Response(self._answer(query))

    def _answer(self, query: QueryDict) -> dict[str, Any]:
        forms = self.forms(query)
        refuse(*forms)
        try:
            found = self.answer(*forms)
        except TooThin as thin:
            raise TooThinToSay(thin.reasons) from None
        except StatsError as error:
            forms[-1].blame(error)
            found = None
        refuse(*forms)
        assert found is not None  # what has no answer has a fault
        return found


def refuse(*forms: Asked) -> None:
    """Refuse what the forms can't use, every fault named."""
    faults = [
        Fault(
            name or "query",
            value,
            message if not name or name in form.unknown else f"{name}={shorten(value)!r} can't be used. {message}",
            "unknown-parameter" if name in form.unknown else "bad-value",
        )
        for form in forms
        for name, value, message in form.faults
    ]
    if faults:
        raise BadParameters(faults)


class OfPiece(Worked):
    """An answer about a kind of piece, whose parameters depend on it."""

    @classmethod
    def examples(cls) -> list[str]:
        return [f"piece={code}" for code in PIECES]


class Demand(OfPiece):
    about = "What a piece asks of its worst joint, by statics, every step shown."
    name = "demand"

    @classmethod
    def forms(cls, query: QueryDict) -> list[Asked]:
        return [PieceAsked(query)]

    def answer(self, asked: PieceAsked) -> dict[str, Any] | None:
        found = asked.demand()
        return None if found is None else practised.demand(found)


class Capacity(Worked):
    about = "What a joint of the book bears in another shop at the sizes of a piece, by a lower limit."
    name = "capacity"

    @classmethod
    def forms(cls, query: QueryDict) -> list[Asked]:
        return [JointAsked(query)]

    def answer(self, asked: JointAsked) -> dict[str, Any] | None:
        return practised.capacity(bears(asked), caution()) if _chosen(asked) else None


class Margin(OfPiece):
    about = "What a joint bears over what a piece asks of it, and what would raise that most."
    name = "margin"

    @classmethod
    def forms(cls, query: QueryDict) -> list[Asked]:
        return list(margins.forms(query))

    def answer(self, of_piece: PieceAsked, of_joint: JointAsked) -> dict[str, Any] | None:
        asks, chosen = of_piece.demand(), _chosen(of_joint)
        return practised.margin(margins.answer(of_joint, asks), asks) if asks and chosen else None


class Share(Worked):
    about = "What several joints hold together: bounds beside each other, not one joint times their number."
    name = "share"

    @classmethod
    def forms(cls, query: QueryDict) -> list[Asked]:
        return [ShareAsked(query)]

    def answer(self, asked: ShareAsked) -> dict[str, Any] | None:
        found = asked.answer()
        return None if found is None else practised.share(found, caution())


class Leverage(Worked):
    about = "What force at the end of a member breaks a joint, over the member's length."
    name = "leverage"

    @classmethod
    def forms(cls, query: QueryDict) -> list[Asked]:
        return [LeverageAsked(query)]

    def answer(self, asked: LeverageAsked) -> dict[str, Any] | None:
        found = asked.answer()
        return None if found is None else practised.leverage(found, caution())


class Movement(Worked):
    about = "How far wood moves across a joint over a year, and what a glued cross-grain joint is forced to hold."
    name = "movement"

    @classmethod
    def forms(cls, query: QueryDict) -> list[Asked]:
        return [MovementAsked(query)]

    def answer(self, asked: MovementAsked) -> dict[str, Any] | None:
        found = asked.answer()
        return None if found is None else practised.movement(found, caution())


def _chosen(asked: JointAsked) -> bool:
    """Whether joint and timber are there; what is missing is said at its field."""
    for name, value in (("joint", asked.kind), ("timber", asked.timber)):
        if value is None and not asked.errors.get(name):
            asked.add_error(name, f"A {name} must be chosen, by its code.")
    return asked.ready


WORKED: dict[str, type[Worked]] = {view.name: view for view in (Demand, Capacity, Margin, Share, Leverage, Movement)}
