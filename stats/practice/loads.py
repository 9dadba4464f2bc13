"""Loads to start from, each with where it comes from; none is a requirement."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from stats.footing.units import GRAVITY_M_S2, LBF_N

Kind = Literal["standard", "measured", "memory"]
KINDS: dict[str, str] = {
    "standard": "from a furniture test standard, as a public page gives it; the standard itself was not opened",
    "measured": "measured on people, as a published abstract gives it",
    "memory": "from memory: a usual figure of the trade",
}
"""What a load's figure rests on."""


@dataclass(frozen=True)
class LoadPreset:
    """A load with its source.

    Parameters
    ----------
    code, name : str
        Code and name.
    sets : dict of str to dict of str to float
        For each piece it fits: the inputs it sets [N, N/m].
    kind : {"standard", "measured", "memory"}
        What the figure rests on; see `KINDS`.
    source : str
        Where it was read.
    note : str
        What to mind.
    """

    code: str
    name: str
    sets: Mapping[str, Mapping[str, float]]
    kind: Kind
    source: str
    note: str

    @property
    def cited(self) -> str:
        """The work itself, for running text: without the address at which it was read."""
        return self.source.partition(_READ)[0]


_READ = "; read at "
_ADULT_N = 110 * GRAVITY_M_S2
_EN_SCOPE = (
    "Scope of EN 1022 and EN 16139:2025, adults of not more than 110 kg; read at knowledge.bsigroup.com and "
    "online.standard.no"
)
_BIFMA_ARM = (
    "ANSI/BIFMA X5.1-2002, tests 13 and 14, as a maker of test machines quotes them; read at gsi-id.com "
    "(chair armrest testing machine)"
)
_EXCERPT = "read in an excerpt of a text on furniture design at jfjm100.com (operational loads on chairs and stools)"
_STRENGTHS = (
    'Abstract of "Maximum voluntary strengths of male adults in some lifting, pushing and pulling activities": 29 '
    "healthy men, means of 120 activities from 74 to 386 N; read at paperexplained.cn"
)
HAND_PUSH_N = (74.0, 386.0)
"""Least and greatest mean of what 29 men could lift, push or pull in 120 activities [N]; see `PRESETS`."""
HAND_PUSH_SOURCE = _STRENGTHS.partition(_READ)[0]
"""The work that they are from; where it was read is with the load of `PRESETS`."""
_PUSHED = ("table_racking", "bookcase_racking", "frame_racked")


def _weight(newtons: float) -> dict[str, dict[str, float]]:
    return {"chair_leaned": {"sitter_n": newtons}, "seat": {"load_n": newtons}, "bed_rail": {"load_n": newtons}}


_ROWS = (
    LoadPreset("adult_110", "An adult of 110 kg", _weight(_ADULT_N), "standard", _EN_SCOPE,
               "The weight at rest of the heaviest adult these standards are for; test loads are higher."),
    LoadPreset("iso7173_back", "Back and seat, repeated (ISO 7173)",
               {"chair_leaned": {"back_push_n": 330.0, "sitter_n": 950.0}}, "standard",
               "ISO 7173:1989, 7.6, back fatigue test; read in a public preview at mealir.com",
               "Applied again and again, not once; the edition is no longer in force. There the chair stands on all "
               "its legs: leaning it back as well is harder."),
    LoadPreset("en1728_back", "Back and seat of a school chair (EN 1728)",
               {"chair_leaned": {"back_push_n": 410.0, "sitter_n": 750.0}}, "standard",
               f"EN 1728:2012 with EN 1729-2:2006; {_EXCERPT}",
               "The least push on the back; the load on the seat keeps the chair from tipping."),
    LoadPreset("bifma_back", "Back of an office chair (BIFMA)",
               {"chair_leaned": {"back_push_n": 150 * LBF_N}}, "standard",
               "ANSI/BIFMA chair tests, 150 lbf on the back; read in an excerpt of a text on furniture design at "
               "jfjm100.com (codes, guidelines and standards)",
               "For chairs of offices; the edition is not said there."),
    LoadPreset("bifma_arm", "Arm of an office chair, downwards (BIFMA)", {"arm": {"load_n": 200 * LBF_N}}, "standard",
               _BIFMA_ARM, "The load it must bear in use; the proof load, which it may not survive unharmed, is half "
               "as much again (300 lbf)."),
    LoadPreset("bifma_arm_out", "Arm of an office chair, outwards (BIFMA)", {"arm": {"load_n": 100 * LBF_N}},
               "standard", _BIFMA_ARM, "The load it must bear in use; the proof load is half as much again (150 lbf)."),
    LoadPreset("books", "Books, a full shelf", {"shelf_fixed": {"line_load_n_m": 400.0}}, "memory",
               "from memory: 250 to 400 N for each metre of shelf (25 to 40 kg)",
               "The upper end. Large art books and records weigh more; weigh a metre of your own."),
    LoadPreset("hand_push", "One person's push",
               {code: {"push_n": HAND_PUSH_N[1]} for code in _PUSHED} | {"drawer_front": {"pull_n": HAND_PUSH_N[1]}},
               "measured", _STRENGTHS,
               "The strongest of those activities, on average; a strong man does half as much again, and somebody who "
               "leans or falls against it more."),
)  # fmt: skip

PRESETS: dict[str, LoadPreset] = {one.code: one for one in _ROWS}
"""Loads by code."""


def presets_for(piece: str) -> tuple[LoadPreset, ...]:
    """The loads that fit a piece; where there are none, or none that suits, the reader's own load is the one to take.

    Parameters
    ----------
    piece : str
        A key of `demand.PIECES`.

    Returns
    -------
    tuple of LoadPreset

    Examples
    --------
    >>> [one.code for one in presets_for("arm")]
    ['bifma_arm', 'bifma_arm_out']
    >>> presets_for("door_hung")
    ()
    """
    return tuple(one for one in PRESETS.values() if piece in one.sets)
