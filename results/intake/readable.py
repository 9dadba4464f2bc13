"""The part of a submission that can be built while the rest of it is still blank or wrong."""

from __future__ import annotations

from dataclasses import replace

from .rows import same_label
from .typed import Checked, Typed, TypedSeries

# Lengths that the statics refuse, and readings nobody knows the meaning of, leave no number to look at.
_NO_NUMBERS = {"geometry", "rig", "reads-contradicts-instrument", "too-many"}


def readable_part(checked: Checked) -> Checked | None:
    """The series and specimens that are whole enough to have footings stated, without the errors of the others.

    Parameters
    ----------
    checked : Checked
        With or without errors; it is left as it is.

    Returns
    -------
    Checked or None
        None if there is nothing to look at.
    """
    if any(one.severity == "error" and one.code in _NO_NUMBERS for one in checked.noticed):
        return None
    setups = [one for one in checked.setups if "loading" in one.values and one.kind and one.factor is not None]
    kept: dict[str, TypedSeries] = {}
    for number, one in enumerate(checked.series, 1):
        if one.setup in setups and "joint" in one.values:
            label = one.label or f"series {number}"
            kept[same_label(label)] = _series(one, label)  # specimens of a name used twice go to the last
    if not kept:
        return None
    by_old = {same_label(one.label): one for one in kept.values()}
    for one in kept.values():
        if one.control is not None:
            one.control = by_old.get(same_label(one.control.label))
    return Checked(checked.rows, checked.study, setups, list(kept.values()), [])


def _series(one: TypedSeries, label: str) -> TypedSeries:
    specimens: dict[str, Typed] = {}
    for each in one.specimens:
        if each.label and _told(each):
            specimens.setdefault(same_label(each.label), each)
    values = {**one.values, "label": label}
    if specimens:  # single results outdo a mean that is there too
        values.pop("mean", None)
    return replace(one, values=values, specimens=list(specimens.values()))


def _told(specimen: Typed) -> bool:
    outcome = specimen.values.get("outcome")
    return outcome == "void" or (outcome in ("broke", "held") and "reading" in specimen.values)
