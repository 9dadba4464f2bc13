"""Every series of a study up the ladder, those first that others are measured against."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from results.models import Series, Setup, Specimen, Summary
from stats.footing.ladder import Ladder, LoadCase, climb
from stats.footing.reading import to_force
from stats.footing.step import Step

from .draft import Draft

READ_FIELD = {"force": "peak_load_n", "moment": "moment_nm", "stress": "stress_mpa"}
READ_RUNG = {"force": "peak_load", "moment": "at_joint", "stress": "stress"}


@dataclass
class Climbed:
    """A series with its ladder; `told` are the specimens behind its values, in order."""

    series: Series
    ladder: Ladder
    told: list[Specimen]
    summary: Summary | None

    @property
    def broke(self) -> np.ndarray:
        return np.array([specimen.outcome == "broke" for specimen in self.told], dtype=bool)

    @property
    def reads(self) -> str:
        return self.summary.quantity if self.summary else self.series.setup.reads

    def values(self, code: str) -> np.ndarray | None:
        return self.ladder.footings[code].values

    def centre(self, code: str) -> float | None:
        """Geometric mean of the broken specimens on a footing, or the published mean."""
        values = self.values(code)
        if values is None:
            return None
        if self.summary is None:
            values = values[self.broke]
        return float(np.exp(np.mean(np.log(values)))) if len(values) else None


def climb_all(draft: Draft) -> dict[str, Climbed]:
    """Climb every series, those first that others are measured against."""
    telling = [one for one in draft.series if one.label in draft.summaries or _told(draft, one)]
    first = {one.label: _climb(draft, one) for one in telling}
    climbed = {}
    for one in telling:
        control = _control_reading(first.get(one.control.label), one) if one.control else None
        solid = _own_solid(draft, one, first)
        needs_more = control is not None or solid is not None
        climbed[one.label] = _climb(draft, one, control=control, solid=solid) if needs_more else first[one.label]
    return climbed


def _control_reading(control: Climbed | None, series: Series) -> float | None:
    """The control's geometric mean reading; only a control read on the same rig can be divided by."""
    if control is None or control.series.setup.label != series.setup.label:
        return None
    return control.centre(READ_RUNG[control.reads])


def _own_solid(draft: Draft, series: Series, first: dict[str, Climbed]) -> float | None:
    """Stress that the study's own solid bars of this timber took under the same action."""
    action = series.setup.loading.action
    alike = [
        first[one.label].centre("stress")
        for one in draft.series
        if one.label in first
        and one.joint_id == "solid"
        and one is not series
        and one.timber_id
        and one.timber_id == series.timber_id
        and one.setup.loading.action == action
    ]
    found = [value for value in alike if value]
    return float(np.exp(np.mean(np.log(found)))) if found else None


def _climb(draft: Draft, series: Series, *, control: float | None = None, solid: float | None = None) -> Climbed:
    summary = draft.summaries.get(series.label)
    told = _told(draft, series)
    setup = series.setup
    moisture: np.ndarray | float | None
    density: np.ndarray | float | None
    if summary:
        reads, values, broke = summary.quantity, np.array([summary.mean_si]), np.array([True])
        moisture, density = series.moisture_pct, series.density_kgm3
    else:
        reads = setup.reads
        values = np.array([getattr(one, READ_FIELD[reads]) for one in told], dtype=float)
        broke = np.array([one.outcome == "broke" for one in told], dtype=bool)
        moisture = _per_specimen(told, "moisture_pct", series.moisture_pct)
        density = _per_specimen(told, "density_kgm3", series.density_kgm3)
    case = LoadCase(
        reads=reads,
        loading=setup.loading_id,
        setup=setup.parameters(),
        area_rule=series.joint.area_rule or None,
        section_rule=series.joint.section_rule or None,
        dims=series.dims(),
        timber=series.timber.wood if series.timber else None,
        values=values,
        broke=broke,
        moisture_pct=moisture,
        density_kgm3=density,
        faces=series.faces.replace("long", "side") if series.faces else None,
        solid_stress_mpa=solid,
        control_value=control,
        reading_steps=() if summary else _instrument_steps(setup),
    )
    return Climbed(series, climb(case), told, summary)


def _instrument_steps(setup: Setup) -> tuple[Step, ...]:
    """How the instrument's readings became forces, for the derivation."""
    if setup.instrument_id is None or setup.reads == Setup.Reads.STRESS:
        return ()
    return to_force(
        1.0, setup.instrument_id, ram_diameter_mm=setup.ram_diameter_mm, lever_ratio=setup.lever_ratio
    ).steps


def _told(draft: Draft, series: Series) -> list[Specimen]:
    """The specimens that say something: all but the void ones."""
    return [one for one in draft.specimens.get(series.label, []) if one.outcome != "void"]


def _per_specimen(told: list[Specimen], field: str, of_series: float | None) -> np.ndarray | float | None:
    """One value a specimen where any has its own, else the series' value."""
    own = [getattr(one, field) for one in told]
    if not any(value is not None for value in own):
        return of_series
    fallback = np.nan if of_series is None else of_series
    return np.array([fallback if value is None else value for value in own], dtype=float)
