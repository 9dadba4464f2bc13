"""Which joints fit the place of a piece's worst joint, by how their members meet."""

from __future__ import annotations

from stats.errors import StatsError

PLACES: dict[str, str] = {
    "rail": "where the end of a rail meets the side of a post or leg",
    "frame": "at the corner of a frame",
    "board": "where the end of a board meets the face of another",
    "case": "at the corner of two boards",
    "arm": "where an arm meets what holds it",
}
"""Places by code."""

PLACE_OF: dict[str, str] = {
    "chair_leaned": "rail",
    "seat": "rail",
    "table_racking": "rail",
    "shelf_fixed": "board",
    "bookcase_racking": "board",
    "door_hung": "frame",
    "frame_racked": "frame",
    "drawer_front": "case",
    "bed_rail": "rail",
    "arm": "arm",
}
"""Place of each kind of piece's worst joint; a key of `stats.practice.demand.PIECES` each."""

_STICKS = frozenset({"rail", "frame", "arm"})
_CORNERS = frozenset({"frame", "case"})
_BOARDS = frozenset({"board", "case"})
# Joints that aren't here, such as butts, tenons, dowels, plates and screws, are made at every place.
_ONLY: dict[str, frozenset[str]] = {
    **dict.fromkeys(("edge", "tongue_groove", "scarf", "finger_scarf", "lap_cross"), frozenset()),
    **dict.fromkeys(("lap_half", "lap_plain", "bridle"), _STICKS),
    **dict.fromkeys(("mitre", "mitre_splined", "mitre_lock"), _CORNERS),
    **dict.fromkeys(("box", "dovetail_through", "dovetail_half_blind"), frozenset({"case"})),
    **dict.fromkeys(("housing", "dovetail_sliding"), _BOARDS),
}


def fits(joint: str, place: str) -> bool:
    """Whether a kind of joint can be made at a place.

    Parameters
    ----------
    joint : str
        Code of the joint.
    place : str
        A key of `PLACES`.

    Returns
    -------
    bool
        True for a joint of which nothing is known here.

    Raises
    ------
    StatsError
        For an unknown place.

    Notes
    -----
    By how the members meet, which is common practice and no rule: edge joints, tongues and scarfs join boards along
    their edges or end to end, cross-laps lie in the middle of both members, so that none is at the end of a rail;
    half-laps, plain laps and bridles are of sticks; mitres are of corners; box joints and dovetails of the corner of
    two boards; housings and sliding dovetails of boards.

    Examples
    --------
    >>> fits("edge", "rail"), fits("mt_blind", "rail"), fits("dovetail_through", "case")
    (False, True, True)
    """
    if place not in PLACES:
        raise StatsError(f"place ({place!r}) must be one of {', '.join(PLACES)}.")
    return joint not in _ONLY or place in _ONLY[joint]
