"""What may be set beside what: every comparison in the book asks here first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from stats.errors import StatsError
from stats.footing.footings import FOOTINGS

VerdictKind = Literal["same", "normalised", "through a control", "not comparable"]
VERDICTS: tuple[VerdictKind, ...] = ("same", "normalised", "through a control", "not comparable")
"""Verdicts, from the closest to none."""
TESTS = ("joint", "bond")
Key = tuple[object, ...]
AXIS: dict[str, tuple[str, ...]] = {
    "peak_load": ("study", "setup", "size"),
    "at_joint": ("size",),
    "stress": ("timber",),
    "ratio_solid": (),
    "ratio_solid_matched": (),
    "ratio_control": ("control_joint",),
}
"""What two series must share on a footing to share an axis, beside the kind of test and the action."""


@dataclass(frozen=True)
class SeriesFacts:
    """What comparability needs to know of a series.

    Parameters
    ----------
    id, study, setup : str or int
        The series, its study and its setup.
    joint : str
        Code of the joint.
    action : str
        What the joint feels.
    bond_or_joint : {"joint", "bond"}
        What the series tests.
    size : tuple of float or None
        The sizes that make a load comparable; None if not recorded.
    timber, adhesive : str or None
        Codes; None if not recorded.
    footings : frozenset of str
        Footings that have values.
    control : str, int or None
        The series it is measured against.
    control_joint : str or None
        The joint of that series.
    summary_only : bool
        Whether only published summaries are known.
    conditioning : str or None
        What the specimens went through before the test.
    faces : str or None
        For a bond test, the grain of the bonded faces.
    sense : {"opening", "closing", ""}
        Which way a corner was turned.
    """

    id: str | int
    study: str | int
    setup: str | int
    joint: str
    action: str
    bond_or_joint: str = "joint"
    size: tuple[float, ...] | None = None
    timber: str | None = None
    adhesive: str | None = None
    footings: frozenset[str] = field(default_factory=frozenset)
    control: str | int | None = None
    control_joint: str | None = None
    summary_only: bool = False
    conditioning: str | None = None
    faces: str | None = None
    sense: str = ""

    def __post_init__(self) -> None:
        if self.bond_or_joint not in TESTS:
            raise StatsError(f"bond_or_joint ({self.bond_or_joint!r}) must be joint or bond.")


@dataclass(frozen=True)
class Verdict:
    """Whether two series may be compared on a footing.

    Parameters
    ----------
    kind : {"same", "normalised", "through a control", "not comparable"}
        The verdict.
    reasons : tuple of str
        Why, in sentences.
    cautions : tuple of str
        What differs besides, though it forbids nothing.
    """

    kind: VerdictKind
    reasons: tuple[str, ...]
    cautions: tuple[str, ...] = ()

    @property
    def comparable(self) -> bool:
        """Whether the two may share an axis."""
        return self.kind != "not comparable"


@dataclass(frozen=True)
class Group:
    """Series that may share an axis.

    Parameters
    ----------
    label : str
        What they have in common, in words.
    members : tuple of SeriesFacts
        The series, in the order given.
    """

    label: str
    members: tuple[SeriesFacts, ...]


@dataclass(frozen=True)
class Partition:
    """All series on a footing, sorted into those that may share an axis.

    Parameters
    ----------
    footing : str
        The footing.
    groups : tuple of Group
        The largest first.
    left_out : tuple of (SeriesFacts, str)
        Series without a place on this footing, each with its reason.
    """

    footing: str
    groups: tuple[Group, ...]
    left_out: tuple[tuple[SeriesFacts, str], ...]


def pool_key(facts: SeriesFacts) -> Key:
    """What two series must share for their results to be averaged as one thing.

    Parameters
    ----------
    facts : SeriesFacts
        The series.

    Returns
    -------
    tuple
        Bond or joint, action, joint, the grain of the faces, and the conditioning.

    Notes
    -----
    Stricter than sharing an axis: an end-to-end bond may be set beside an end-to-side one, but the two are
    different tests and are never averaged.
    """
    return (facts.bond_or_joint, facts.action, facts.joint, facts.faces, facts.conditioning)


def place(facts: SeriesFacts, footing: str) -> tuple[Key | None, str]:
    """The axis a series belongs to on a footing, or why it has none.

    Parameters
    ----------
    facts : SeriesFacts
        The series.
    footing : str
        A key of `FOOTINGS`.

    Returns
    -------
    key : tuple or None
        Equal keys share an axis; None if the series has no place.
    words : str
        What the axis has in common; without a key, the reason.

    Raises
    ------
    StatsError
        If the footing is unknown.
    """
    if footing not in FOOTINGS:
        raise StatsError(f"footing ({footing!r}) must be one of {', '.join(FOOTINGS)}.")
    name = FOOTINGS[footing].name
    if footing not in facts.footings:
        return None, f"It has no {name}."
    common: Key = (facts.bond_or_joint, facts.action)
    kind = f"{facts.bond_or_joint} tests in {facts.action}"
    axis: Key = (*common, *(getattr(facts, name) for name in AXIS[footing]))
    if footing in ("peak_load", "at_joint"):
        if facts.size is None:
            return None, f"Its sizes are not recorded, and a {name} means nothing without them."
        return axis, f"{kind}, one setup, one size" if footing == "peak_load" else f"{kind}, one size"
    if footing == "stress":
        if facts.timber is None:
            return None, "Its timber is not recorded, and a stress is compared within one timber."
        return axis, f"{kind}, {facts.timber}"
    if footing == "ratio_control":
        if facts.control_joint is None:
            return None, "The joint of its control is not recorded."
        return axis, f"{kind}, against {facts.control_joint}"
    return axis, kind


def verdict(a: SeriesFacts, b: SeriesFacts, footing: str) -> Verdict:
    """Whether two series may be compared on a footing, and why.

    Parameters
    ----------
    a, b : SeriesFacts
        The series.
    footing : str
        A key of `FOOTINGS`.

    Returns
    -------
    Verdict
        ``same``: measured alike, compared as measured. ``normalised``: alike once on this footing.
        ``through a control``: each against its own control of one kind.

    Raises
    ------
    StatsError
        If the footing is unknown.

    Notes
    -----
    The rules: a bond test and a joint test never, two actions never; a peak load within one setup and size; a
    moment or force at the joint within one size; a stress within one timber; a ratio to solid wood across
    all; a ratio to control where the controls are the same joint.
    """
    cautions = _cautions(a, b)
    (key_a, words_a), (key_b, words_b) = place(a, footing), place(b, footing)
    if key_a is None or key_b is None:
        found = ((a, key_a, words_a), (b, key_b, words_b))
        return Verdict("not comparable", tuple(f"{s.id}: {w}" for s, key, w in found if key is None), cautions)
    if key_a != key_b:
        return Verdict("not comparable", _differences(a, b, footing), cautions)
    if footing == "ratio_control":
        if a.control is not None and (a.study, a.control) == (b.study, b.control):
            return Verdict("same", ("Both are set against one control, on its setup.",), cautions)
        reason = f"Each is set against a control of its own; both controls are {a.control_joint}."
        return Verdict("through a control", (reason,), cautions)
    if _measured_alike(a, b):
        return Verdict("same", ("One setup, one size: compared as measured.",), cautions)
    return Verdict("normalised", (_normalised(a, b, footing),), cautions)


def best(a: SeriesFacts, b: SeriesFacts) -> tuple[str | None, Verdict]:
    """The closest footing on which two series may be compared.

    Parameters
    ----------
    a, b : SeriesFacts
        The series.

    Returns
    -------
    footing : str or None
        The footing, the lowest among those with the closest verdict; None if there is none.
    verdict : Verdict
        The verdict there; without a footing, the reasons of all footings together.
    """
    found = [(code, verdict(a, b, code)) for code in FOOTINGS]
    code, closest = min(found, key=lambda pair: VERDICTS.index(pair[1].kind))
    if closest.comparable:
        return code, closest
    reasons = tuple(dict.fromkeys(reason for _, v in found for reason in v.reasons))
    return None, Verdict("not comparable", reasons, closest.cautions)


def partition(facts: Iterable[SeriesFacts], footing: str) -> Partition:
    """Series sorted into groups that may share an axis.

    Parameters
    ----------
    facts : iterable of SeriesFacts
        The series.
    footing : str
        A key of `FOOTINGS`.

    Returns
    -------
    Partition
        Two series are in one group just when `verdict` lets them be compared. Linear in their number.
    """
    groups: dict[Key, tuple[str, list[SeriesFacts]]] = {}
    left_out: list[tuple[SeriesFacts, str]] = []
    for series in facts:
        key, words = place(series, footing)
        if key is None:
            left_out.append((series, words))
        else:
            groups.setdefault(key, (words, []))[1].append(series)
    ordered = sorted(groups.values(), key=lambda group: -len(group[1]))
    return Partition(footing, tuple(Group(label, tuple(m)) for label, m in ordered), tuple(left_out))


def _measured_alike(a: SeriesFacts, b: SeriesFacts) -> bool:
    """One rig and one size; a size that is not recorded is never taken as equal."""
    return (a.study, a.setup) == (b.study, b.setup) and a.size is not None and a.size == b.size


def _normalised(a: SeriesFacts, b: SeriesFacts, footing: str) -> str:
    differs = [
        word
        for word, differ in (
            ("rig", (a.study, a.setup) != (b.study, b.setup)),
            ("size", a.size is None or a.size != b.size),
            ("timber", a.timber is None or a.timber != b.timber),
        )
        if differ
    ]
    what = FOOTINGS[footing].name
    return f"The {' and '.join(differs)} may differ; the {what} takes account of it." if differs else f"One {what}."


def _differences(a: SeriesFacts, b: SeriesFacts, footing: str) -> tuple[str, ...]:
    """What keeps two series apart on a footing, each with what to do if there is something."""
    reasons = []
    if a.bond_or_joint != b.bond_or_joint:
        reasons.append("One tests a glue bond, the other a joint: a bond test says nothing of a joint.")
    if a.action != b.action:
        reasons.append(f"One feels {a.action}, the other {b.action}: they have no axis in common.")
    if footing == "peak_load" and (a.study, a.setup) != (b.study, b.setup):
        reasons.append("Their rigs differ, and a load means nothing without its rig; compare at the joint.")
    if footing in ("peak_load", "at_joint") and a.size != b.size:
        reasons.append("Their sizes differ; compare the stress or a ratio.")
    if footing == "stress" and a.timber != b.timber:
        reasons.append("Their timbers differ; compare the ratio to solid wood.")
    if footing == "ratio_control" and a.control_joint != b.control_joint:
        reasons.append(f"Their controls are different joints, {a.control_joint} and {b.control_joint}.")
    return tuple(reasons)


def _cautions(a: SeriesFacts, b: SeriesFacts) -> tuple[str, ...]:
    """Differences that no footing takes out."""
    cautions = []
    for name, one, other in (
        ("adhesive", a.adhesive, b.adhesive),
        ("conditioning", a.conditioning, b.conditioning),
        ("grain of the faces", a.faces, b.faces),
        ("sense", a.sense or None, b.sense or None),
    ):
        if one != other:
            cautions.append(f"The {name} differs: {one or 'not recorded'} and {other or 'not recorded'}.")
    if a.timber != b.timber:
        cautions.append(f"The timber differs: {a.timber or 'not recorded'} and {b.timber or 'not recorded'}.")
    if a.summary_only or b.summary_only:
        cautions.append("At least one is known only as a published summary.")
    return tuple(cautions)
