"""Rows as typed to values in SI, with everything that is wrong or doubtful, all at once."""

from __future__ import annotations

from results.models import Specimen
from results.models.dimensions import DIMS

from . import relations
from .columns import RECORDS
from .findings import DOUBT, ERROR, REMARK, Noticed, where
from .rig import geometry, parameters, read_setup
from .rows import Row, Rows, same_label
from .typed import COLUMNS, Checked, Typed, TypedSeries, TypedSetup, column_of, read_all, the_column_of
from .values import Quantity, Values
from .words import Words


def check(rows: Rows, *, sheet: bool = True, words: Words | None = None, by: int | None = None) -> Checked:
    """Read every cell and hold every rule against it.

    Parameters
    ----------
    rows : Rows
        As typed.
    sheet : bool
        Whether it came from a file, where a text that begins with an equals sign is a formula.
    words : Words, optional
        The vocabularies, if they were read before.
    by : int, optional
        Number of the user who sends it, where that is known.

    Returns
    -------
    Checked
        Values and findings; nothing may be built from it while one of these is an error.
    """
    values = Values(words or Words(), rows.decimal, sheet=sheet, by=by)
    study = _study(values, rows.study)
    unit = study.values.get("length unit", None if "length unit" in rows.study.cells else "")
    setups = [read_setup(values, row, unit, only=len(rows.setups) == 1) for row in rows.setups]
    series = [_series(values, row, unit) for row in rows.series]
    relations.tie(values, rows, setups, series)
    for one in series:
        _summary(values, one)
        _statics(values, one)
    by_label = {same_label(one.label): one for one in series if one.label}
    relations.settle_specimens(values, rows.specimens, by_label)
    for row in rows.specimens:
        _specimen(values, row, by_label)
    for one in series:
        relations.unique_specimens(values, one)
        relations.results_of(values, one)
    return Checked(rows, study, setups, series, [*rows.noticed, *_causes(_inches_once(values, rows.study))])


def _inches_once(values: Values, study: Row) -> list[Noticed]:
    """Findings where one on the unit of lengths stands for those on several lengths that look like bare inches."""
    those = list({one.place: one for one in values.maybe_inches}.values())  # said for all series is said once
    if len(those) < 2:
        return values.noticed
    shown = [f"{one.field} {one.value[:40]!r}" for one in those[:NAMED_MOST]]
    at = study.where("length unit")
    cell = f" ({where(at)})" if at.column else ""
    once = Noticed(
        "maybe-inches",
        DOUBT,
        f"{len(those)} lengths have no unit and are read in mm, which makes each of them unusual: "
        f"{', '.join(shown)}{' …' if len(those) > NAMED_MOST else ''}. In inches they would be usual.",
        f'If they are inches, set "length unit" of the study{cell} to in; if not, write mm behind each.',
        field="length unit",
        value=study.text("length unit"),
        place=at,
    )
    told = {id(one) for one in values.maybe_inches}
    return [once, *(one for one in values.noticed if id(one) not in told)]


NAMED_MOST = 5  # lengths named in one message
# What belongs to whom goes by the series' names.
_BY_NAME = {
    ("series", "no-results"),
    ("series", "both-results"),
    ("series", "all-void"),
    ("series", "unknown-series"),
    ("specimen", "unknown-series"),
    ("specimen", "duplicate-label"),
}


def _causes(noticed: list[Noticed]) -> list[Noticed]:
    """Findings without those that only follow from a series that has no name, or the name of another."""
    if not any(one.record == one.field == "series" and one.severity == ERROR for one in noticed):
        return noticed
    return [
        one
        for one in noticed
        if (one.record, one.code) not in _BY_NAME and (one.record, one.field) != ("specimen", "series")
    ]


def _study(values: Values, row: Row) -> Typed:
    study = Typed(row, read_all(values, row))
    if study.values.get("origin") == "published" and "citation" not in row.cells:
        values.note(
            "missing",
            "Citation is blank; figures from a publication need it.",
            "Write who, what, where and when.",
            row=row,
            column="citation",
        )
    return study


def _series(values: Values, row: Row, unit: str | None) -> TypedSeries:
    return TypedSeries(row, read_all(values, row, ("mean", "sd"), unit))


def _summary(values: Values, series: TypedSeries) -> None:
    """Read a published mean and spread in the unit of the series' setup."""
    setup = series.setup
    for name in ("mean", "sd"):
        if name in series.row.cells and setup is not None and setup.kind:
            value = values.read(
                series.row, COLUMNS["series"][name], kind=setup.kind, unit=_sd_unit(series, setup, name)
            )
            if value is not None:
                series.values[name] = value
    row = series.row
    mean, sd = series.values.get("mean"), series.values.get("sd")
    for name in ("sd", "n"):
        if name in row.cells and "mean" not in row.cells:
            values.note(
                "spread-without-mean",
                f"{name} {row.text(name)!r} was given, but no mean.",
                "Give the mean, or leave this blank where single results are given.",
                row=row,
                column=name,
            )
    if sd and series.values.get("n") == 1:
        values.note(
            "spread-of-one",
            f"Sd {row.text('sd')!r} can't be the spread of n = 1.",
            "Check n; one specimen has no spread.",
            row=row,
            column="sd",
        )
    elif mean and sd and sd.si > mean.si:
        values.note(
            "spread-above-mean",
            f"Sd {row.text('sd')!r} is larger than the mean {row.text('mean')!r}.",
            "Check that mean and sd stand in their own columns and in one unit.",
            row=row,
            column="sd",
            severity=DOUBT,
        )


def _sd_unit(series: TypedSeries, setup: TypedSetup, name: str) -> str | None:
    """A bare spread is in the unit its mean was typed in."""
    mean = series.values.get("mean")
    return mean.unit if name == "sd" and isinstance(mean, Quantity) else setup.unit


def _statics(values: Values, series: TypedSeries) -> None:
    """Hold lengths of rig and joint against each other, where the statics refuse them."""
    joint = series.values.get("joint")
    if joint is not None:
        used = set(joint.dims)
        for name in series.values:
            column = column_of("series", name)
            if column is not None and column in _JOINT_PARTS and name not in used:
                values.note(
                    "unused-size",
                    f"{column.name.capitalize()} {series.row.text(column.name)!r} is kept, "
                    f"but nothing is computed from it for {joint.name}.",
                    "Nothing, unless another joint was meant.",
                    row=series.row,
                    column=column.name,
                    severity=REMARK,
                )
    for part, whole in _WITHIN:
        inner, outer = series.si(part), series.si(whole)
        if inner is not None and outer is not None and inner > outer:
            inside, other = the_column_of("series", part), the_column_of("series", whole)
            values.note(
                "part-larger-than-whole",
                f"{inside.name.capitalize()} {series.row.text(inside.name)!r} is more than "
                f"{other.name} {series.row.text(other.name)!r}.",
                "Check both, and their units.",
                row=series.row,
                column=inside.name,
                severity=DOUBT,
            )
    if series.setup is not None and "loading" in series.setup.values:
        code = series.setup.values["loading"].pk
        if code in ("lap_shear", "block_shear") and "tests" not in series.row.cells:
            values.note(
                "missing",
                "Tests is blank; in shear it must be said whether a glue bond by itself was tested.",
                "Write bond for glued blocks or laps, joint for a joint as it is used.",
                row=series.row,
                column="tests",
            )
        lengths = parameters(series.setup) | {n: series.si(n) for n in DIMS if n in series.values}
        geometry(values, series.row, code, lengths, again=series.setup)


# A size in the first place can't well be more than the one in the second.
_WITHIN = (
    ("tenon_depth_mm", "member_depth_mm"),
    ("tenon_thickness_mm", "member_thickness_mm"),
    ("fastener_diameter_mm", "member_thickness_mm"),
    ("slot_depth_mm", "slot_length_mm"),
    ("tongue_thickness_mm", "member_thickness_mm"),
)
_JOINT_PARTS = tuple(
    column
    for column in RECORDS["series"]
    if column.field.startswith(("tenon", "haunch", "fastener", "slot", "finger", "slope", "scarf", "spline"))
)


def _specimen(values: Values, row: Row, series: dict[str, TypedSeries]) -> None:
    owner = series.get(same_label(row.text("series")))
    specimen = Typed(row, read_all(values, row, ("series", "reading")))
    outcome = specimen.values.get("outcome", "" if "outcome" in row.cells else Specimen.Outcome.BROKE)
    specimen.values["outcome"] = outcome
    if "reading" in row.cells:
        setup = owner.setup if owner else None
        if setup is not None and setup.kind:
            reading = values.read(row, COLUMNS["specimen"]["reading"], kind=setup.kind, unit=setup.unit)
            if reading is not None:
                specimen.values["reading"] = reading
    elif outcome in ("broke", "held"):
        values.note(
            "missing",
            f"Reading is blank, but the specimen {outcome}.",
            "Give the highest reading; if it was lost, mark the specimen void and say why.",
            row=row,
            column="reading",
        )
    _outcome(values, row, outcome)
    if owner is not None:
        owner.specimens.append(specimen)


def _outcome(values: Values, row: Row, outcome: str) -> None:
    """What belongs to one outcome only."""
    if outcome == "void" and "void reason" not in row.cells:
        values.note(
            "missing",
            "Void reason is blank; a void specimen needs one.",
            "Say what went wrong with the rig; if the joint itself broke early, it broke.",
            row=row,
            column="void reason",
        )
    if outcome in ("broke", "held") and "void reason" in row.cells:
        values.note(
            "reason-without-void",
            f"Void reason {row.text('void reason')[:40]!r} was given, but the outcome is {outcome!r}.",
            "Write void as the outcome, or move this into notes.",
            row=row,
            column="void reason",
        )
    for name in ("failure place", "wood failure"):
        if outcome in ("held", "void") and name in row.cells:
            values.note(
                "failure-without-break",
                f"{name.capitalize()} {row.text(name)[:40]!r} was given, but the outcome is {outcome!r}: "
                "it has not broken anywhere.",
                "Leave it blank, or write broke as the outcome.",
                row=row,
                column=name,
            )
