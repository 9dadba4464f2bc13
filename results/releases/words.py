"""The vocabulary tables of a release, each row with its source."""

from __future__ import annotations

from results.models import AdhesiveClass, FailurePlace, Instrument, Joint, JointFamily, Loading, Timber
from results.models.vocabulary import Word

from .columns import Column, boolean, number, text
from .tables import DATA, Foreign, Table


def _columns(*more: Column) -> tuple[Column, ...]:
    """The columns every vocabulary table begins and ends with."""
    return (
        text("code", "code", "the code that records and filters use; it never changes", required=True),
        text("name", "name", "its name to read", required=True),
        *more,
        text("description", "description", "what it is"),
        text("source", "source", "where the row comes from", required=True),
    )


def _table(name: str, about: str, model: type[Word], *more: Column, foreign: tuple[Foreign, ...] = ()) -> Table:
    order = ("name", "code") if model is Timber else ("position", "code")
    return Table(name, about, model, _columns(*more), key=("code",), foreign=foreign, order=order)


_PROVENANCE = text("provenance", "provenance", "how the source was read")

JOINT_FAMILIES = _table("joint_families", "a family of joints", JointFamily)
JOINTS = _table(
    "joints",
    "a kind of joint, with what its area and section are computed from",
    Joint,
    text("family", "family_id", "code of the joint's family", required=True),
    text("also_known_as", "also_known_as", "other names in use"),
    text("area_rule", "area_rule", "how its bonded area is computed"),
    text("section_rule", "section_rule", "how its section is computed"),
    text("needs_dims", "needs_dims", "dimensions those rules need, by column of series"),
    text("optional_dims", "optional_dims", "dimensions that say more"),
    boolean("is_control_kind", "is_control_kind", "true if it is usual as a control", required=True),
    _PROVENANCE,
    foreign=(Foreign(("family",), "joint_families", ("code",)),),
)
LOADINGS = _table(
    "loadings",
    "an arrangement that applies the load, and what the joint feels",
    Loading,
    text(
        "action",
        "action",
        "what the joint feels: bending, axial, shear or torsion",
        required=True,
        words=tuple(code for code, _ in Loading.ACTIONS),
    ),
    text("needs", "needs", "lengths it needs, by column of setups"),
    text("optional", "optional", "lengths that say more"),
    text("formula", "formula", "from load to the action at the joint", required=True),
    _PROVENANCE,
)
INSTRUMENTS = _table(
    "instruments",
    "what a load was read on",
    Instrument,
    text("reads", "reads", "kind of quantity shown: force, pressure or moment", required=True),
    text("needs", "needs", "lengths it needs, by column of setups"),
    text("accuracy", "accuracy", "how far its readings can be off"),
    _PROVENANCE,
)
ADHESIVES = _table(
    "adhesives",
    "a class of glue by its chemistry",
    AdhesiveClass,
    text("en204", "en204", "EN 204 durability class, where it has one"),
    _PROVENANCE,
)
FAILURE_PLACES = _table(
    "failure_places", "where a joint can break; this says nothing of how much it took", FailurePlace
)
_OF_WOOD = ("mor_", "shear_", "tension_", "comp_", "moe_", "hardness_", "shrink_")
TIMBERS = _table(
    "timbers",
    "a timber with its clear-wood properties and their sources",
    Timber,
    text("scientific_name", "scientific_name", "its botanical name"),
    text("group", "group", "hardwood or softwood", required=True, words=("hardwood", "softwood")),
    *(
        number(field.name, field.name, str(field.verbose_name))
        for field in Timber._meta.concrete_fields
        if field.name.startswith(_OF_WOOD) and field.get_internal_type() == "FloatField"
    ),
    number("sg_12", "sg_12", "specific gravity, ovendry mass over volume at 12 % (imports: green volume)"),
    number("sg_green", "sg_green", "specific gravity, ovendry mass over green volume"),
    number("intersection_mc_pct", "intersection_mc_pct", "moisture where strength stops changing"),
    text("source_green", "source_green", "where the green properties come from"),
    text("shrink_source", "shrink_source", "where the shrinkage comes from"),
    _PROVENANCE,
    text("shrink_provenance", "shrink_provenance", "how the source of the shrinkage was read"),
)

WORDS: tuple[Table, ...] = (JOINT_FAMILIES, JOINTS, LOADINGS, INSTRUMENTS, ADHESIVES, FAILURE_PLACES, TIMBERS)
ALL: tuple[Table, ...] = (*DATA, *WORDS)
