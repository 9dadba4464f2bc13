"""A workshop made ready to be read: where it stands in plain words first, its charts and tables, its rigs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from urllib.parse import urlencode

import numpy as np
import pandas as pd
from django.urls import reverse

from results.evidence.compare import unit_of
from results.evidence.shops import FEWEST_FOR_MANDEL, FEWEST_FOR_STANDING, Shop
from results.models import Series, Setup, Study
from stats.charts.chart import Chart
from stats.charts.look import counted, low
from stats.charts.shops import DOUBTFUL, OUT, mandel, z_scores
from stats.footing.footings import FOOTINGS

from . import rigs_shown, tables
from .study_sheet import Rig, exact, rig
from .wording import footing_name, with_unit

MOST_RIGS = 8
# A difference that reads as none.
SAME_WITHIN = 0.02


@dataclass(frozen=True)
class Standing:
    """Where a shop stands on one footing, as the page shows it."""

    sentences: list[str]
    scatter: list[str]
    measured: str
    charts: dict[str, Chart] = field(default_factory=dict)
    scores: tables.Table | None = None
    mandel: list[tables.Table] = field(default_factory=list)
    shared: tables.Table | None = None
    invented: bool = False
    numbers: str = ""
    single: str = ""


@dataclass(frozen=True)
class Rigs:
    """A shop's rigs, alike ones once, and what its records say of its instruments."""

    rigs: list[tuple[Rig, list[Study]]]
    more: int
    instruments: tables.Table | None
    calibrations: tables.Table | None = None
    doubts: tuple[str, ...] = ()


def standing_of(found: Shop) -> Standing:
    """Words, charts and tables of where a shop stands."""
    unit = unit_of(found.footing, found.action)
    measured = with_unit(footing_name(FOOTINGS[found.footing], unit), unit)
    charts: dict[str, Chart] = {}
    own, spread = found.own_scores, found.own_mandel
    if len(own):
        charts["z"] = z_scores(found.scores, shop=found.name, about=measured)
    if len(spread):
        charts["h"] = mandel(found.mandel, "h", shop=found.name, about=measured)
        if spread["k"].notna().any():
            charts["k"] = mandel(found.mandel, "k", shop=found.name, about=measured)
    asked = [("action", found.action), ("tests", found.tests)]
    joints = [
        ("joint", code) for code in sorted({joint.partition("+")[0].split(" ")[0] for joint in found.shared["joint"]})
    ]
    return Standing(
        sentences=_standing_words(found),
        scatter=_scatter_words(found),
        measured=measured,
        charts=charts,
        scores=tables.of_frame(charts["z"].table, f"Joints shared with three other shops or more: {measured}")
        if "z" in charts
        else None,
        mandel=[
            tables.of_frame(charts[which].table, f"Mandel's {which}: logarithms of the {measured}")
            for which in ("h", "k")
            if which in charts
        ],
        shared=_shared(found),
        invented=found.invented,
        numbers=f"{reverse('api:footings', args=['csv'])}?{urlencode([*joints, *asked, ('footing', found.footing)])}",
        single=f"{reverse('api:specimens', args=['csv'])}?{urlencode([*joints, *asked])}",
    )


def _standing_words(found: Shop) -> list[str]:
    own, reads = found.own_scores, found.reads
    if reads is None:
        most = int(found.shared["shops"].max()) - 1 if len(found.shared) else 0
        others = (
            "no other shop has"
            if not most
            else f"at most {counted(most, 'other shop')} {'has' if most == 1 else 'have'}"
        )
        return [
            f"Too few shops to say where this one stands: {others} tested any of its joints in this way, and a standing"
            f" needs {FEWEST_FOR_STANDING - 1}. No number is given for that reason."
        ]
    many = len(own) > 1
    where = "as the others do" if abs(reads - 1) < SAME_WITHIN else f"about {_share(reads)} the others"
    on = f"the {len(own)} joints it shares" if many else "the one joint it shares"
    average = "on average " if many else ""
    first = f"On {on} with three other shops or more, this shop reads {average}{where}."
    beyond = own[own["z"].abs() > DOUBTFUL]
    if beyond.empty:
        return [f"{first} Between shops that is usual{', on each of them' if many else ''}."]
    apart = [
        f"{low(row.joint_name)}, {_share(float(np.exp(row.y - row.assigned)))}"
        + (" and out of line" if abs(row.z) > OUT else "")
        for row in beyond.itertuples()
    ]
    how = f"On {len(beyond)} of them" if many else "There"
    return [f"{first} {how} it differs by more than is usual between shops: {'; '.join(apart)}."]


def _list(rows: pd.DataFrame) -> str:
    """The joints' names as they stand inside a sentence."""
    return ", ".join(low(name) for name in rows["joint_name"])


def _share(reads: float) -> str:
    return f"{100 * (reads - 1):.0f} % above" if reads > 1 else f"{100 * (1 - reads):.0f} % below"


def _scatter_words(found: Shop) -> list[str]:
    own = found.own_mandel
    if own.empty:
        return [
            f"Too few shops for h and k: they need {FEWEST_FOR_MANDEL} with single results of one of its joints. No"
            " number is given for that reason."
        ]
    high = own[own["h"].abs() > own["h_critical"]]
    wide = own[own["k"] > own["k_critical"]]
    on = counted(len(own), "joint")
    said = [
        f"Its results scatter more than the other shops' on {_list(wide)}."
        if len(wide)
        else f"Its results scatter no more than other shops' do, on any of {on}."
        if own["k"].notna().any()
        else "It broke one specimen a joint, which shows no scatter.",
        f"Its mean stands out from the shops' on {_list(high)}."
        if len(high)
        else f"Its mean stands out from the shops' on none of {on}.",
    ]
    here = found.mandel[found.mandel["joint"].isin(own["joint"])]
    fewest = int(here.groupby("joint")["study"].nunique().min())
    return (
        [*said, f"With {fewest} shops on a joint that says little of shops in general; six is few."]
        if fewest < 6
        else said
    )


def _shared(found: Shop) -> tables.Table | None:
    if found.shared.empty:
        return None
    frame = pd.DataFrame(
        {
            "Joint": found.shared["joint_name"],
            "Shops that tested it": found.shared["shops"],
            "With single results": found.shared["repeated"],
            "Enough for a z-score": found.shared["shops"] >= FEWEST_FOR_STANDING,
            "Enough for h and k": found.shared["repeated"] >= FEWEST_FOR_MANDEL,
        }
    )
    return tables.of_frame(frame, "The joints of this shop, and how many shops tested each, itself among them")


def rigs_of(name: str) -> Rigs:
    """A shop's setups, those that are alike in all but their study once."""
    studies = Study.objects.public().filter(workshop=name)
    setups = list(
        Setup.objects.filter(study__in=studies)
        .select_related("loading", "instrument", "study", "rig__loading", "rig__instrument")
        .prefetch_related("rig__calibrations")
        .order_by("pk")
    )
    on_setup: dict[int, list[Series]] = {}
    for one in Series.objects.filter(setup__in=[setup.pk for setup in setups]):
        on_setup.setdefault(one.setup_id, []).append(one)
    alike: dict[tuple, list[Setup]] = {}
    for setup in setups:
        same = (setup.loading_id, setup.instrument_id, setup.reads, tuple(sorted(setup.parameters().items())))
        alike.setdefault(same, []).append(setup)
    calibrations = _calibrations(setups)
    # Of those that are alike the one that was calibrated stands for all.
    groups = [(next((one for one in group if one.rig_id in calibrations), group[0]), group) for group in alike.values()]
    shown = [
        (
            rig(first, [one for setup in group for one in on_setup.get(setup.pk, [])]),
            list({setup.study_id: setup.study for setup in group}.values()),
        )
        for first, group in groups[:MOST_RIGS]
    ]
    return Rigs(
        shown,
        max(len(alike) - MOST_RIGS, 0),
        _instruments([first for first, _ in groups], calibrations),
        rigs_shown.table(
            [(label, one) for label, found in calibrations.values() for one in found],
            "Calibrations of its rigs against known weights",
        ),
        tuple(
            f"{label}, {one.record.made_on}: {doubt}"
            for label, found in calibrations.values()
            for one in found
            for doubt in one.calibrated.doubts
        ),
    )


def _calibrations(setups: list[Setup]) -> dict[int, tuple[str, list[rigs_shown.Shown]]]:
    """By rig, a setup's name and the calibrations; of rigs that accepted studies were made on."""
    found: dict[int, tuple[str, list[rigs_shown.Shown]]] = {}
    for setup in setups:
        if setup.rig_id and setup.rig_id not in found and setup.study.status == Study.Status.ACCEPTED:
            calibrations = rigs_shown.of_setup(setup)
            if calibrations:
                found[setup.rig_id] = (setup.label, calibrations)
    return found


def _instruments(setups: list[Setup], calibrations: Mapping[int, object]) -> tables.Table | None:
    """What the setups say of how the load was read."""
    if not setups:
        return None
    rows = [
        {
            "Setup": setup.label,
            "Read on": setup.instrument.name if setup.instrument else "not recorded",
            "Ram": f"{exact(setup.ram_diameter_mm)} mm" if setup.ram_diameter_mm else "",
            "Lever": f"1 : {exact(setup.lever_ratio)}" if setup.lever_ratio else "",
            "Rate": f"{exact(setup.rate_mm_min)} mm/min" if setup.rate_mm_min else "not recorded",
            "Calibrated": "see below" if setup.rig_id in calibrations else "not recorded",
            "Such instruments are usually within": setup.instrument.accuracy if setup.instrument else "",
        }
        for setup in setups
    ]
    return tables.of_frame(pd.DataFrame(rows), "What is recorded of how the load was read")
