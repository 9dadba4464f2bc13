"""The spreadsheet of a plan: the study that follows, filled in but for what the test will show."""

from __future__ import annotations

from results.evidence import Draft
from results.intake.study_book import study_xlsx
from results.models import AdhesiveClass, Instrument, Joint, Loading, Series, Setup, Specimen, Study, Timber
from results.models.dimensions import DIMS
from stats.footing.units import show

from .plan_document import Document, named_series, runs

RIG = "rig"
# Setups of series that the planned arm doesn't suit, by what is wrong with it for them.
_MOVED = {"too small": "longer arm", "too coarse": "shorter arm"}
_README = """\
This workbook holds the study that you planned. Fill in what the test shows, save as XLSX, and send it under
"Submit results" as a spreadsheet.
Sheet "specimens": a row for each joint, with its turn in the order of testing. Write each reading with its unit.
A joint that held is marked held, one that the rig spoilt void, with the reason: leave no row out.
Sheet "series": add the sizes of each joint, the moisture and how long the glue had.
If the test went otherwise than planned, write what was done: the plan stays as it is, and the difference is shown."""


def plan_xlsx(written: Document, number: int | None = None) -> bytes:
    """The workbook of a plan.

    Parameters
    ----------
    written : dict
        From `plan_document.document`.
    number : int, optional
        Of the plan, where it was lodged: the study then says which plan it follows.
    """
    draft = plan_draft(written, number, arms=True)
    return study_xlsx(draft, readme="\n".join([_README, *_told(written, draft)]))


def _told(written: Document, draft: Draft) -> list[str]:
    """What the plan says of its loads and of the rig, a line each."""
    names, told = named_series(written), []
    if any(one.get("load_n") for one in written["series"]):
        told.append("Loads to expect: middling specimen; weakest to strongest.")
    for one in written["series"]:
        if load := one.get("load_n"):
            low, typical, high = (show(value, "N") for value in load)
            source = f" ({one['load_from']})" if one.get("load_from") else ""
            told.append(f"{names[one['label']]}: {typical}; {low} to {high}{source}")
        if one.get("rig"):
            told.append(f"{names[one['label']]}: {one['rig']}")
    if written.get("arms"):
        told.append(written["arms"])
    if moved := [one.label for one in draft.setups if one.label != RIG]:
        setups = " and one called ".join(moved)
        told.append(
            f"Sheet setups has one called {setups} for the series that the planned arm doesn't suit: write the arm "
            "that you take."
        )
    return told


def plan_draft(written: Document, number: int | None = None, *, arms: bool = False) -> Draft:
    """The study that a plan foresees, with specimens that have no reading yet; nothing is saved.

    Parameters
    ----------
    written : dict
        From `plan_document.document`.
    number : int, optional
        Of the plan, where it was lodged.
    arms : bool, optional
        Whether series that no one arm suits get a setup of their own, its arm blank; a form holds one setup only.
    """
    study = Study(title=written["title"], question=written["question"], workshop=written["workshop"], plan_id=number)
    setups: dict[str, Setup] = {}
    draft = Draft(study=study)
    sizes = written["sizes"] | {name: said for name, said in written["lengths"].items() if name in DIMS}
    turns = {(run.series, run.specimen): run for run in runs(written)}
    joints = {one.pk: one for one in Joint.objects.filter(pk__in={one["joint"] for one in written["series"]})}
    timber = Timber.objects.filter(pk=written["timber"]).first() if written["timber"] else None
    glue = AdhesiveClass.objects.filter(pk=written["adhesive"]).first() if written["adhesive"] else None
    for said in written["series"]:
        joint = joints[said["joint"]]
        label = _MOVED.get(said.get("rig_verdict", ""), RIG) if arms and _no_one_arm(written) else RIG
        setup = setups.setdefault(label, _setup(written, study, label))
        one = Series(
            study=study,
            setup=setup,
            label=said["label"],
            joint=joint,
            tests=written["tests"],
            timber=timber,
            # A bar without a joint has no glue.
            adhesive=None if joint.pk == "solid" else glue,
            typed={name: value["typed"] for name, value in sizes.items()},
            **{name: value["si"] for name, value in sizes.items()},
        )
        draft.series.append(one)
        draft.specimens[one.label] = [
            _specimen(one, number, turns[one.label, number].position, turns[one.label, number].block, written["blocks"])
            for number in range(1, said["n"] + 1)
        ]
    draft.setups.extend(setups.values())
    _tie_controls(draft.series)
    return draft


def _no_one_arm(written: Document) -> bool:
    """Whether the strongest series need a longer arm than the weakest allow."""
    ends = written.get("arms_mm") or (0.0, 0.0)
    return bool(ends[0] > ends[1])


def _setup(written: Document, study: Study, label: str) -> Setup:
    lengths = {name: said for name, said in written["lengths"].items() if hasattr(Setup, name)}
    if label != RIG:
        lengths.pop("arm_mm", None)
    return Setup(
        study=study,
        label=label,
        loading=Loading.objects.get(pk=written["loading"]),
        instrument=Instrument.objects.filter(pk=written["instrument"]).first() if written["instrument"] else None,
        reads="moment" if written["instrument"] == "torque_wrench" else "force",
        typed={name: said["typed"] for name, said in lengths.items()},
        **{name: said["si"] for name, said in lengths.items()},
    )


def _specimen(series: Series, number: int, turn: int, block: int, blocks: int) -> Specimen:
    when = f"planned as turn {turn}" + (f" in block {block}" if blocks > 1 else "")
    return Specimen(series=series, label=f"{series.label}{number}", position=number, outcome="", notes=when)


def _tie_controls(series: list[Series]) -> None:
    """Measure every joint against the glued butt, where there is one."""
    butt = next((one for one in series if one.joint_id == "butt"), None)
    for one in series:
        # What was measured on another setup is no control.
        if butt is not None and one is not butt and not one.joint.is_control_kind and one.setup is butt.setup:
            one.control = butt
