"""Where a specimen keeps its value on each footing."""

from __future__ import annotations

SPECIMEN_FIELD = {
    "peak_load": "peak_load_n",
    "stress": "stress_mpa",
    "ratio_solid": "ratio_solid",
    "ratio_solid_matched": "ratio_solid_matched",
    "ratio_control": "ratio_control",
}


def specimen_field(footing: str, action: str) -> str:
    """The specimen's field that holds its value on a footing; at the joint it is a moment or a force by the action."""
    if footing == "at_joint":
        return "moment_nm" if action in ("bending", "torsion") else "force_n"
    return SPECIMEN_FIELD[footing]
