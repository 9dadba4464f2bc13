"""Parameters of an address, each one of a few words; what can't be used is refused with the nearest that can."""

from __future__ import annotations

from collections.abc import Collection

from django.http import QueryDict

from results.evidence.choices import nearest

from .errors import BadParameter


def known_only(query: QueryDict, names: Collection[str]) -> None:
    """Refuse a parameter that the page doesn't have.

    Raises
    ------
    BadParameter
        Naming it and the nearest that there is.
    """
    for name in query:
        if name not in names:
            raise BadParameter(name, str(query[name]), f"is no parameter here.{nearest(name, names)}")


def one_of(query: QueryDict, field: str, known: Collection[str], default: str, where: str = "") -> str:
    """The one value of a parameter; the default where it isn't given or empty.

    Raises
    ------
    BadParameter
        If it is not among the known ones, or given several times.
    """
    given = list(dict.fromkeys(value for value in query.getlist(field) if value))
    if len(given) > 1:
        raise BadParameter(field, ", ".join(given), "may be given once only.")
    if not given:
        return default
    if given[0] not in known:
        raise BadParameter(field, given[0], f"is not known{where}.{nearest(given[0], known)}")
    return given[0]
