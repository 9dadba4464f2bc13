"""The matter of the page of all studies together: its sentences, charts and tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, cast

import numpy as np
import pandas as pd
from django.urls import reverse

from results.evidence import Choices, Comparison, Linked, linked
from results.evidence import linked_numbers as numbers
from results.evidence.choices import ACTIONS, TESTS
from results.evidence.linked import side_by_side
from stats.charts.chart import Chart
from stats.charts.forest import forest, forest_table, routes, routes_table
from stats.charts.graph import graph, joints_table
from stats.charts.influence import influence, influence_table
from stats.charts.look import counted
from stats.inference import comparisons

from . import network_words as words
from . import tables
from .comparison import axis_name, emptied_by, joint_links, left_out_table
from .wording import how_invented, with_unit

# Rows of studies and of pairs that a table of the page shows.
MOST_STUDIES, MOST_PAIRS = 25, 40


@dataclass(frozen=True)
class Way:
    """Somewhere to go on: what it is, and the choices as an address has them."""

    label: str
    query: str


@dataclass(frozen=True)
class PartShown:
    """A part that nothing links to the others."""

    number: int
    names: str
    studies: int
    query: str = ""


@dataclass(frozen=True)
class PairShown:
    """Two joints more closely: what can be chosen, what is chosen, and what is known of them."""

    options: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    joint: str
    versus: str
    title: str
    sentences: tuple[str, ...] = ()
    missing: str = ""


@dataclass(frozen=True)
class Network:
    """All that the page shows, ready to be kept."""

    refused: str = ""
    ways: tuple[Way, ...] = ()
    how_invented: str = ""
    measured: str = ""
    lead: str = ""
    axis: str = ""
    reference: str = ""
    stand_in: str = ""
    notes: tuple[str, ...] = ()
    pair: PairShown | None = None
    agreement: tuple[str, ...] = ()
    influence: tuple[str, ...] = ()
    parts: tuple[PartShown, ...] = ()
    charts: dict[str, Chart] = field(default_factory=dict)
    tables: dict[str, tables.Table] = field(default_factory=dict)


def make(choices: Choices, pair: tuple[str, str] | None) -> Network:
    """Work out the page.

    Parameters
    ----------
    choices : Choices
    pair : (str, str), optional
        The joints to look at more closely; the pair that most is known of unless given.
    """
    found = linked(choices)
    comparison = found.comparison
    if found.network is None:
        return Network(
            refused=_refusal(found, choices),
            ways=tuple(_ways(found, choices)),
            measured=_measured(comparison),
            how_invented=_how_invented(comparison),
            tables=_left_out(found),
        )
    fitted, reference = found.network, found.names[comparison.reference]
    effects = numbers.effects(found)
    nodes, edges = numbers.tested_together(found)
    nodes = _in_order(nodes, effects, comparison.reference)
    moved = numbers.influence(found)
    about = f"{_measured(comparison)}; {_counts(fitted.studies, nodes)}"
    charts = {
        "joints": forest(effects, reference=reference, about=about, level=choices.level),
        "graph": graph(nodes, edges, reference=comparison.reference, about=about),
    }
    if np.isfinite(moved["without"].to_numpy(float)).any():
        charts["influence"] = influence(moved, reference=reference, about=about)
    closer, chart, more = _closer(found, effects, pair, about)
    return Network(
        how_invented=_how_invented(comparison),
        measured=_measured(comparison),
        lead=_lead(found, nodes),
        axis=comparison.axis,
        reference=reference,
        stand_in=_stand_in(comparison, reference),
        notes=fitted.notes,
        pair=closer,
        agreement=tuple(map(words.tied, (words.heterogeneity(numbers.spread(fitted)), words.inconsistency(fitted)))),
        influence=tuple(words.of_influence(moved, reference)),
        parts=tuple(_parts(found, choices)),
        charts={**charts, **chart},
        tables={**_tables(found, effects, nodes, charts, moved, reference), **more, **_left_out(found)},
    )


def _measured(comparison: Comparison) -> str:
    """The footing with its unit, and the action, as they stand inside a sentence."""
    action = ACTIONS.get(comparison.action, "")
    return ", ".join(part for part in (with_unit(words.low(axis_name(comparison)), comparison.unit), action) if part)


def _how_invented(comparison: Comparison) -> str:
    return "" if comparison.empty else how_invented(comparison.behind.inventions)


def _counts(studies: int, nodes: pd.DataFrame) -> str:
    return f"{counted(studies, 'study')}, {counted(int(nodes['specimens'].sum()), 'specimen')}"


def _lead(found: Linked, nodes: pd.DataFrame) -> str:
    fitted, tests = cast(comparisons.Network, found.network), found.comparison.choices.tests
    what = f" ({TESTS[tests]})" if tests in ("joint", "bond") else ""
    return (
        f"{counted(fitted.studies, 'study')} tested two or more of {counted(len(nodes), 'joint')} side by"
        f" side{what}: {counted(fitted.series, 'series')}, {counted(int(nodes['specimens'].sum()), 'specimen')}."
    )


def _stand_in(comparison: Comparison, reference: str) -> str:
    """What to say where the reference chosen is not there to be measured against."""
    asked = comparison.choices.reference
    codes = comparison.behind.side.codes()
    if not asked or asked in map(codes.get, comparison.specimens):
        return ""
    return f"The reference chosen ({asked.replace('_', ' ')}) is not among these joints; {reference} stands in for it."


def _in_order(nodes: pd.DataFrame, effects: pd.DataFrame, reference: str) -> pd.DataFrame:
    """Joints part by part, in the order of the forest where they are in it."""
    order = [reference, *effects["joint"].tolist()]
    rank = {joint: i for i, joint in enumerate(order)}
    places = [rank.get(joint, len(rank)) for joint in nodes["joint"].tolist()]
    return nodes.take(np.lexsort((places, nodes["part"].to_numpy()))).reset_index(drop=True)


def _tables(
    found: Linked,
    effects: pd.DataFrame,
    nodes: pd.DataFrame,
    charts: dict[str, Chart],
    moved: pd.DataFrame,
    reference: str,
) -> dict[str, tables.Table]:
    level = found.comparison.choices.level
    made = {
        "joints": tables.of_frame(
            forest_table(effects, level),
            f"Each joint as a ratio to {reference}, through all studies",
            links=_joints(effects),
        ),
        "nodes": tables.of_frame(
            joints_table(nodes),
            "The joints, and how much stands behind each",
            links=_joints(nodes),
        ),
        "edges": tables.of_frame(
            charts["graph"].table.head(MOST_PAIRS),
            f"Pairs that a study tested side by side{_of(MOST_PAIRS, len(charts['graph'].table))}",
        ),
    }
    known = moved[np.isfinite(moved["without"].to_numpy(float))].head(MOST_STUDIES)
    if len(known):
        made["influence"] = tables.of_frame(
            influence_table(known),
            f"The ratio to {reference} that leaving out a study moves most{_of(MOST_STUDIES, len(moved))}",
            links=[_study(number) for number in known["study_id"]],
        )
    return made


def _of(shown: int, there: int) -> str:
    """What a caption says of a table that is cut short."""
    return f" (the first {shown} of {there})" if there > shown else ""


def _joints(frame: pd.DataFrame) -> list[str]:
    """Where the pages are of the joints in a frame's rows."""
    return joint_links(frame["joint"].tolist())


def _study(number: int) -> str:
    return reverse("browse:study", args=[number])


def _components(found: Linked) -> tuple[tuple[object, ...], ...]:
    """The parts of the network; none where there is no network."""
    return found.network.components if found.network else ()


def _closer(
    found: Linked, effects: pd.DataFrame, asked: tuple[str, str] | None, about: str
) -> tuple[PairShown, dict[str, Chart], dict[str, tables.Table]]:
    """The chosen pair: its sentences, its chart, its tables."""
    names, level = found.names, found.comparison.choices.level
    joint, versus = asked or numbers.best_pair(effects, found.comparison.reference)
    shown: dict[str, Any] = {"options": _options(found, names), "joint": joint, "versus": versus}
    for code in (joint, versus):
        if code not in names:
            why = f"{code.replace('_', ' ')} is not among the joints of these studies; choose from those listed."
            return PairShown(**shown, title="", missing=why), {}, {}
    title = f"{names[joint]} against {names[versus]}"
    part = {code: number for number, joints in enumerate(_components(found)) for code in joints}
    if part[joint] != part[versus]:
        why = "No chain of studies links the two; a study with both, or with a joint of each one's part, would."
        return PairShown(**shown, title=title, missing=why), {}, {}
    pair = numbers.pair(found, joint, versus)
    ways = _ways_of(pair)
    chart = routes(ways, joint=names[joint], versus=names[versus], about=about, level=level)
    shares = pair.shares.head(MOST_STUDIES)
    made = {
        "pair": tables.of_frame(routes_table(ways, level), f"{title}, by each kind of evidence"),
        "shares": tables.of_frame(
            pd.DataFrame(
                {
                    "Study": shares["study"].array,
                    "Share in the ratio, %": 100 * shares["weight"].to_numpy(),
                    "Tested both": ["yes" if direct else "no" for direct in shares["direct"].tolist()],
                }
            ),
            f"What each study counts for in this ratio{_of(MOST_STUDIES, len(pair.shares))}",
            links=[_study(number) for number in shares["study_id"]],
        ),
    }
    sentences = tuple(map(words.tied, words.of_pair(pair, names)))
    return PairShown(**shown, title=title, sentences=sentences), {"pair": chart}, made


def _ways_of(pair: numbers.Pair) -> pd.DataFrame:
    """The kinds of evidence on a pair as `stats.charts.forest.routes` takes them."""
    told = {
        "direct": int(pair.shares["direct"].sum()),
        "indirect": int((~pair.shares["direct"]).sum()),
        "network": len(pair.shares),
    }
    rows = []
    for way in ("direct", "indirect", "network"):
        found = getattr(pair, way)
        if found is None:
            continue
        ahead = found.prediction if way == "network" and not pair.note else None
        rows.append(
            {
                "way": way,
                "ratio": found.ratio,
                "low": found.ratio_interval.low,
                "high": found.ratio_interval.high,
                "prediction_low": float(np.exp(ahead.low)) if ahead else np.nan,
                "prediction_high": float(np.exp(ahead.high)) if ahead else np.nan,
                "studies": told[way],
            }
        )
    return pd.DataFrame(rows)


def _options(found: Linked, names: dict[str, str]) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    """Joints to choose from, by part; those that nothing links are left out."""
    parts = [joints for joints in _components(found) if len(joints) > 1]
    return tuple(
        (
            f"Part {number}" if len(parts) > 1 else "",
            tuple(sorted(((str(code), names[str(code)]) for code in joints), key=lambda row: row[1].casefold())),
        )
        for number, joints in enumerate(parts, 1)
    )


def _parts(found: Linked, choices: Choices) -> list[PartShown]:
    """The parts, where there are several, each but the first with an address of its own."""
    if len(_components(found)) == 1:
        return []
    return [
        PartShown(
            part.number,
            words.listed(part.names),
            part.studies,
            choices.query(reference=part.reference) if part.number > 1 and part.reference else "",
        )
        for part in numbers.parts(found)
    ]


def _left_out(found: Linked) -> dict[str, tables.Table]:
    made = {"left_out": left_out_table(found.comparison)} if found.comparison.left else {}
    aside = None if found.network is None else found.network.set_aside
    if aside is not None and len(aside):
        shown = aside.head(MOST_STUDIES)
        columns = {
            "Study": [found.titles[study] for study in shown["study"].tolist()],
            "Joint": [found.names[joint] for joint in shown["joint"].tolist()],
            "Set aside because it": shown["reason"].tolist(),
        }
        caption = f"Studies that link nothing{_of(MOST_STUDIES, len(aside))}"
        links = [_study(number) for number in shown["study"].tolist()]
        made["set_aside"] = tables.of_columns(columns, caption, numeric=(), links=links)
    return made


def _refusal(found: Linked, choices: Choices) -> str:
    """Why there is no network, in a sentence; where a choice emptied it, which."""
    if found.comparison.empty and not found.comparison.refused:
        return f"Nothing to show. {emptied_by(choices)[0]}"
    return found.refused


def _ways(found: Linked, choices: Choices) -> list[Way]:
    """Choices near these that have a network, so that nobody is left standing."""
    comparison = found.comparison
    if comparison.alternatives:
        return [Way(label, query) for label, query in comparison.alternatives]
    if not comparison.empty:
        linking = side_by_side(comparison.arms)
        if linking["study_id"].nunique() > 1:
            by_studies = linking.groupby(["joint_code", "joint_name"])["study_id"].nunique().nlargest(3)
            return [Way(f"against {name}", choices.query(reference=code)) for code, name in by_studies.index]
    wider = (
        ("with all timbers", choices.timbers, {"timbers": ()}),
        ("with all glues", choices.adhesives, {"adhesives": ()}),
        ("with all joints", choices.joints, {"joints": ()}),
        ("as ratio to solid wood", choices.footing != "ratio_solid", {"footing": "ratio_solid"}),
    )
    every = {"timbers": (), "adhesives": (), "joints": ()}
    ways = [_way(label, choices, change) for label, narrowed, change in wider if narrowed]
    if not any(ways) and (choices.timbers or choices.adhesives or choices.joints):
        ways.append(_way("with all joints, timbers and glues", choices, every))
    return [way for way in ways if way]


def _way(label: str, choices: Choices, change: Mapping[str, Any]) -> Way | None:
    """The same with some choices changed; None where nothing is linked then either."""
    fitted = linked(replace(choices, **change)).network
    return Way(f"{label} ({counted(fitted.studies, 'study')})", choices.query(**change)) if fitted else None
