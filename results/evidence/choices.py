"""What a reader chose to compare: read from an address, written back to one."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.http import QueryDict

from results.models import AdhesiveClass, Joint, Loading, Series, Timber
from results.models.vocabulary import Word
from stats.footing.ladder import FOOTINGS

ACTIONS = dict(Loading.ACTIONS)
ANY = "any"
TESTS = {"joint": "joint tests", "bond": "bond tests", ANY: "joint and bond tests"}
WITH = {"with": True, "without": False, "true": True, "false": False}
GROUPS = {"hardwood": "hardwoods", "softwood": "softwoods"}
CONDITIONING = dict(Series.Conditioning.choices)
LEVELS = {"0.9": 0.9, "0.95": 0.95, "0.99": 0.99}


class BadChoice(ValueError):
    """A parameter that can't be used.

    Parameters
    ----------
    field, value : str
        The parameter and what it held.
    message : str
        What would be right.
    """

    def __init__(self, field: str, value: str, message: str) -> None:
        self.field, self.value, self.message = field, value, message
        super().__init__(f"{field}={value!r}: {message}")


@dataclass(frozen=True)
class Choices:
    """What to set side by side; an empty tuple means all."""

    joints: tuple[str, ...] = ()
    action: str = "bending"
    footing: str = "ratio_solid"
    tests: str = "joint"
    timbers: tuple[str, ...] = ()
    adhesives: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    conditioning: tuple[str, ...] = ()
    reference: str = ""
    flagged: bool = True
    # None: as the site has it, see `with_invented`.
    invented: bool | None = None
    level: float = 0.95

    @property
    def with_invented(self) -> bool:
        """Whether invented studies are in: only in a demonstration, unless somebody asks for them."""
        return settings.DEMO if self.invented is None else self.invented

    @classmethod
    def from_query(cls, query: QueryDict, *, ignore: tuple[str, ...] = ()) -> Choices:
        """Read an address's parameters.

        Raises
        ------
        BadChoice
            For a parameter that isn't known or a value that can't be used.
        """
        for name in query:
            if name not in PARAMETERS and name not in ignore:
                raise BadChoice(name, str(query[name]), f"is no parameter here.{nearest(name, PARAMETERS)}")
        picked: dict[str, Any] = {
            "joints": _words(query, "joint", Joint),
            "timbers": _words(query, "timber", Timber),
            "adhesives": _words(query, "adhesive", AdhesiveClass),
            "groups": _some(query, "group", GROUPS),
            "conditioning": _some(query, "conditioning", CONDITIONING),
            "action": _one(query, "action", {**ACTIONS, ANY: ""}, cls.action),
            "footing": _one(query, "footing", FOOTINGS, cls.footing),
            "tests": _one(query, "tests", TESTS, cls.tests),
            "flagged": WITH[_one(query, "flagged", WITH, "with")],
            "invented": WITH[_one(query, "invented", WITH, "with")] if query.get("invented") else None,
            "level": LEVELS[_one(query, "level", LEVELS, "0.95")],
        }
        reference = _words(query, "reference", Joint)
        if len(reference) > 1:
            raise BadChoice("reference", ", ".join(reference), "names several joints; name one.")
        return cls(**picked, reference=reference[0] if reference else "")

    def query(self, **changes: Any) -> str:
        """The address's parameters for these choices, or for these with some changed."""
        it = replace(self, **changes)
        pairs: list[tuple[str, str]] = [("joint", code) for code in it.joints]
        pairs += [("action", it.action), ("footing", it.footing), ("tests", it.tests)]
        pairs += [("timber", code) for code in it.timbers] + [("adhesive", code) for code in it.adhesives]
        pairs += [("group", code) for code in it.groups] + [("conditioning", code) for code in it.conditioning]
        if it.reference:
            pairs.append(("reference", it.reference))
        if not it.flagged:
            pairs.append(("flagged", "without"))
        if it.invented is not None:
            pairs.append(("invented", "with" if it.invented else "without"))
        if it.level != Choices.level:
            pairs.append(("level", f"{it.level:g}"))
        return urlencode(pairs)


PARAMETERS = (
    "joint",
    "action",
    "footing",
    "tests",
    "timber",
    "group",
    "adhesive",
    "conditioning",
    "reference",
    "flagged",
    "invented",
    "level",
)


def nearest(value: str, known: Iterable[str]) -> str:
    """Words for what was probably meant; all that there are where nothing is near."""
    words = list(known)
    close = difflib.get_close_matches(value[:80], words, n=3, cutoff=0.4)
    return f" Did you mean {' or '.join(close)}?" if close else f" Known: {', '.join(sorted(words))}."


def is_a_family(word: str) -> str:
    """For whoever names a family where a joint is asked for, which joints it has; "" for any other word."""
    own = [] if "\0" in word else list(Joint.objects.filter(family=word).values_list("pk", flat=True))
    return f"is a family of joints: ask for {' or '.join(own)}." if own else ""


def _one(query: QueryDict, field: str, known: Collection[str], default: str) -> str:
    given = [value for value in query.getlist(field) if value]
    if len(set(given)) > 1:
        raise BadChoice(field, ", ".join(given), "may be given once only.")
    value = given[0] if given else default
    if value not in known:
        raise BadChoice(field, value, f"is not known.{nearest(value, known)}")
    return value


def _some(query: QueryDict, field: str, known: Collection[str]) -> tuple[str, ...]:
    """Any number of known words."""
    given = tuple(dict.fromkeys(value for value in query.getlist(field) if value))
    for value in given:
        if value not in known:
            raise BadChoice(field, value, f"is not known.{nearest(value, known)}")
    return given


def _words(query: QueryDict, field: str, model: type[Word]) -> tuple[str, ...]:
    given = tuple(dict.fromkeys(value for value in query.getlist(field) if value))
    # NUL is refused by PostgreSQL before it could say that there is no such row.
    asked = [value for value in given if "\0" not in value]
    known = set(model._default_manager.filter(pk__in=asked).values_list("pk", flat=True)) if asked else set()
    for value in given:
        if value not in known:
            if model is Joint and (family := is_a_family(value)):
                raise BadChoice(field, value, family)
            codes = model._default_manager.values_list("pk", flat=True)
            raise BadChoice(field, value, f"is not in the vocabulary.{nearest(value, codes)}")
    return given
