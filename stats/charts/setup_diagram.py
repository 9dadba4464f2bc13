"""A setup as a labelled drawing: what is held, where the joint is, where the load comes on, and the lengths."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from stats.charts.setup_scale import NAMES, NOT_GIVEN, Scene, rule
from stats.charts.setup_scenes import SCENES
from stats.footing.loading import Loading, find


def setup_diagram(
    loading: str,
    lengths: Mapping[str, Any],
    section: Mapping[str, Any] | None = None,
    *,
    reads: str = "force",
    instrument: str = "",
    label: str = "",
    name: str = "setup",
) -> str:
    """Draw a setup from its lengths.

    Parameters
    ----------
    loading : str
        A key of `stats.footing.loading.LOADINGS`.
    lengths : mapping
        The setup's lengths [mm], angles [°] and counts by name; what is absent or None was not given.
    section : mapping, optional
        ``member_thickness_mm``, ``member_depth_mm``, ``other_depth_mm``, ``bond_length_mm`` of the specimens.
    reads : {"force", "moment", "stress"}, optional
        What the readings are.
    instrument : str, optional
        Code of what the load was read on; a jack is drawn with its ram.
    label : str, optional
        The setup's name, for the drawing's title. Escaped here.
    name : str, optional
        Word that sets the drawing's ids apart from others on one page.

    Returns
    -------
    str
        An ``<svg>`` element, 340 units wide, with title and description.

    Raises
    ------
    StatsError
        For an unknown loading.

    Notes
    -----
    The main length of a loading is always drawn as long as it fits; the others follow to the same scale. One that
    would be too short or too long to read is drawn at the nearest that can be, and the drawing then says "not to
    scale". So it does where a length is missing, whose dimension line says "not given".

    Examples
    --------
    >>> svg = setup_diagram("cantilever_arm", {"arm_mm": 300.0}, label="jack & arm")
    >>> "arm 300 mm" in svg, "jack &amp; arm" in svg
    (True, True)
    """
    arrangement = find(loading)
    scene = Scene({**(section or {}), **lengths}, reads, instrument)
    words = SCENES[loading](scene)
    notes = [*_members(scene), *scene.notes, *_reading(scene), _scale_words(scene)]
    scene.pen.below(notes)
    title = f"{label}: {arrangement.name.lower()}" if label else arrangement.name
    return scene.pen.to_svg(name, title, " ".join([*words, *_told(scene, arrangement), *notes]))


def _told(scene: Scene, arrangement: Loading) -> list[str]:
    """The lengths in words, for those who can't see the lines."""
    direct = scene.reads == "moment" and "arm_mm" in arrangement.needs
    names = [
        one for one in (*arrangement.needs, *arrangement.optional) if one in NAMES and not (direct and one == "arm_mm")
    ]
    told = [" ".join(scene.label(one)) for one in names if one in arrangement.needs or scene.number(one) is not None]
    return [f"Lengths: {', '.join(told)}."] if told else []


def _members(scene: Scene) -> list[str]:
    sides = [scene.number(one) for one in ("member_thickness_mm", "member_depth_mm")]
    known = [rule(side) for side in sides if side is not None]
    return [f"Members {' × '.join(known)} mm."] if len(known) == 2 else []


def _reading(scene: Scene) -> list[str]:
    """How the load was read, where that is more than a force."""
    if scene.reads == "stress":
        return ["Published as a stress: loads and lengths are the publication's."]
    if scene.reads == "moment":
        return ["The moment itself is read: no length enters."]
    if scene.instrument == "jack_gauge":
        return [f"F from the pressure on the jack's ram; {' '.join(scene.label('ram_diameter_mm'))}."]
    if scene.instrument == "lever_press":
        ratio = scene.number("lever_ratio")
        return [f"F is the force read times the lever's ratio, {rule(ratio) if ratio is not None else NOT_GIVEN}."]
    return []


def _scale_words(scene: Scene) -> str:
    if not scene.lengths_true:
        return "Not to scale."
    return "Drawn to scale." if scene.members_true else "Lengths to scale, members not to scale."
