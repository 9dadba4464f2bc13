"""Stored footings read back as frames; units stand in the column names, one row a series or a specimen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
import pandas as pd

from results.models import Setup, Specimen, Timber
from stats.inference.told import Told

from . import book
from .book import Array, Book, Read
from .choices import ACTIONS, Choices
from .fields import specimen_field
from .packing import CONDITIONINGS, GRAINS, NO_ROW, SIZES

__all__ = [
    "HARD_LIVES",
    "SIZES",
    "Looked",
    "looked_at",
    "series_frame",
    "specimen_field",
    "specimen_frame",
    "with_logs",
]

# Arrow's strings are made for large tables; a page makes hundreds of small frames, which take a tenth longer with them.
pd.options.mode.string_storage = "python"

# What a joint went through that makes it another thing to average.
HARD_LIVES = {"cycled": "cycled between dry and damp", "soaked": "soaked"}
TESTS = ("joint", "bond")
ACTION_CODES = tuple(ACTIONS)


@dataclass(frozen=True, eq=False)
class Kinds:
    """What is never averaged as one joint told apart: a bond by the grain of its faces, a soaked one from a dry.

    ``code`` names the kind (``butt+end-side``), ``joint`` is the place of the vocabulary's joint.
    """

    code: tuple[str, ...]
    name: tuple[str, ...]
    joint: Array


@dataclass(frozen=True, eq=False)
class Looked:
    """The series that a choice reaches: one row each in every array, in the order of their keys.

    Parameters
    ----------
    source : Book
    at : ndarray of int
        Place of each in the book's packs.
    kind : ndarray of int
        Place of each in `kinds`.
    kinds : Kinds
    flagged : bool
        Whether the sums are with flagged specimens.
    """

    source: Book
    at: Array
    kind: Array
    kinds: Kinds
    flagged: bool

    def __len__(self) -> int:
        return len(self.at)

    def take(self, which: Array) -> Looked:
        """The rows that hold."""
        return replace(self, at=self.at[which], kind=self.kind[which])

    def column(self, name: str) -> Array:
        """What is packed of the series under that name."""
        return self.source.read.column(name)[self.at]

    def places(self, name: str) -> Array:
        """Words of the series as their places in the vocabulary."""
        return self.source.read.places(name)[self.at]

    @cached_property
    def study_id(self) -> Array:
        return self.source.packs.study[self.at]

    @cached_property
    def study(self) -> Array:
        """Place of each series' study among the accepted ones."""
        count = self.source.packs.count
        return np.repeat(np.arange(len(count)), count)[self.at]

    @cached_property
    def invented(self) -> Array:
        return self.source.studies.invented[self.study]

    @cached_property
    def action(self) -> Array:
        """Place of each series' action among `ACTION_CODES`."""
        of_loading = [ACTION_CODES.index(action) for action in self.source.vocabulary.loadings.more]
        return np.array(of_loading, dtype=np.intp)[self.places("loading")]

    @cached_property
    def bond(self) -> Array:
        return self.column("bond").astype(bool)

    def stored(self, name: str) -> Array:
        """A stored sum, with flagged specimens or without them as was chosen."""
        return self.column(name if self.flagged else f"kept_{name}")

    @cached_property
    def n(self) -> Array:
        return self.stored("n")

    @cached_property
    def held(self) -> Array:
        return self.stored("held")

    @cached_property
    def has_value(self) -> Array:
        return ~np.isnan(self.stored("sum_log"))

    @cached_property
    def specimens(self) -> Array:
        """How many specimens each row stands for when it is left out."""
        return np.nan_to_num(self.column("n")) + self.held

    @cached_property
    def doubted(self) -> Array:
        with_them, without = (
            np.nan_to_num(self.column(f"{kept}n")) + self.column(f"{kept}held") for kept in ("", "kept_")
        )
        return (with_them - without).astype(np.int64)

    def label(self, row: int) -> str:
        return self.source.packs.label[self.at[row]]

    def title(self, row: int) -> str:
        return self.source.studies.title[self.study[row]]

    @cached_property
    def size(self) -> Array:
        """What two specimens of one size share, see `size_of`."""
        return size_of(*self.column("sizes").T)

    def told(self) -> Told:
        """What the rows tell, as the statistics take it."""
        study, studies = pd.factorize(self.study_id)
        joint, kinds = pd.factorize(self.kind)
        family = pd.factorize(np.array(self.source.vocabulary.joints.more, dtype=object))[0]
        mean, spread = logs_of(self.n, self.stored("sum_log"), self.stored("sum_sq_log"))
        return Told(
            study=study,
            joint=joint,
            family=family[self.kinds.joint[self.kind]],
            studies=studies,
            joints=tuple(self.kinds.code[at] for at in kinds),
            names=tuple(self.kinds.name[at] for at in kinds),
            n=self.n,
            held=self.held,
            mean_log=mean,
            sd_log=spread,
            flagged=self.doubted.astype(float),
            published=self.column("published").astype(bool),
        )

    def arms(self) -> pd.DataFrame:
        """What the rows are and how many specimens they hold, without all else that `frame` tells."""
        joint = self.kinds.joint[self.kind] if len(self) else self.kind
        return pd.DataFrame(
            {
                "study_id": self.study_id,
                "study": _named(self.source.studies.title, self.study),
                "joint": _named(self.kinds.code, self.kind),
                "joint_name": _named(self.kinds.name, self.kind),
                "joint_code": _named(self.source.vocabulary.joints.codes, joint),
                "n": self.n,
                "held": self.held,
            }
        )

    def frame(self) -> pd.DataFrame:
        """The rows as a frame, see `series_frame`."""
        words, studies, labels = self.source.vocabulary, self.source.studies, self.source.packs.label.all()
        sizes, control = self.column("sizes"), self.column("control")
        joint = self.kinds.joint[self.kind] if len(self) else self.kind
        frame = pd.DataFrame(
            {
                "series_id": self.column("id"),
                **{name: self.stored(name) for name in ("n", "sum_log", "sum_sq_log")},
                "held": self.held.astype(np.int64),
                "study_id": self.study_id,
                "invented": self.invented,
                "joint": _named(self.kinds.code, self.kind),
                "joint_name": _named(self.kinds.name, self.kind),
                "joint_code": _named(words.joints.codes, joint),
                "family": _named(words.joints.more, joint),
                "summary_only": self.column("published").astype(bool),
                "flagged": self.doubted,
                "series": pd.array([labels[at] for at in self.at.tolist()], dtype="str"),
                "study": _named(studies.title, self.study),
                "workshop": _named(studies.workshop, self.study),
                "setup_id": self.column("setup"),
                "loading": _named(words.loadings.codes, self.places("loading")),
                "action": _named(ACTION_CODES, self.action),
                "tests": _named(TESTS, self.column("bond").astype(np.intp)),
                "timber": _named(words.timbers.codes, self.places("timber")),
                "timber_name": _named(words.timbers.names, self.places("timber")),
                "adhesive": _named(words.adhesives.codes, self.places("adhesive")),
                "adhesive_name": _named(words.adhesives.names, self.places("adhesive")),
                "control_id": np.where(control > 0, control, np.nan),
                "control_joint": _named(words.joints.codes, self.places("control_joint")),
                "control_joint_name": _named(words.joints.names, self.places("control_joint")),
                "conditioning": _named(CONDITIONINGS, self.column("conditioning").astype(np.intp)),
                "faces": _named(FACES, _faces(self.column("grain_a"), self.column("grain_b"))),
                **{name: sizes[:, at] for at, name in enumerate(SIZES)},
                "all_n": self.column("n"),
            }
        )
        return with_logs(frame)


def _named(words: tuple[str, ...], at: Array) -> Any:
    """Words by their places, missing where the place is below zero."""
    return _strings(words).take(at, allow_fill=True) if words else pd.array([None] * len(at), dtype="str")


@lru_cache(maxsize=32)
def _strings(words: tuple[str, ...]) -> Any:
    return pd.array(list(words), dtype="str")


FACES = tuple(f"{a}-{b}" for a in GRAINS for b in GRAINS)


def _faces(grain_a: Array, grain_b: Array) -> Array:
    """Place of the grain of both faces among `FACES`, in a fixed order; -1 where one is not recorded."""
    a, b = grain_a.astype(np.intp), grain_b.astype(np.intp)
    place = np.minimum(a, b) * len(GRAINS) + np.maximum(a, b)
    return np.where((a > 0) & (b > 0), place, -1)


def _kinds(read: Read, at: Array) -> tuple[Array, Kinds]:
    """The kind of each series, numbered in the order in which they first come."""
    joints = read.vocabulary.joints
    bond, lived = read.column("bond")[at] > 0, read.column("conditioning")[at].astype(np.intp)
    face = np.where(bond, _faces(read.column("grain_a")[at], read.column("grain_b")[at]), -1)
    life = np.where(np.isin(lived, [CONDITIONINGS.index(code) for code in HARD_LIVES]), lived, -1)
    key = (read.places("joint")[at] * (len(FACES) + 1) + face + 1) * (len(CONDITIONINGS) + 1) + life + 1
    number, kinds = pd.factorize(key)
    codes, names, of = [], [], []
    for kind in kinds.tolist():
        rest, lived_as = divmod(kind, len(CONDITIONINGS) + 1)
        joint, grain = divmod(rest, len(FACES) + 1)
        code, name = joints.codes[joint], joints.names[joint]
        if grain:
            code, name = f"{code}+{FACES[grain - 1]}", f"{name}, {FACES[grain - 1]} grain"
        if lived_as:
            hard = CONDITIONINGS[lived_as - 1]
            code, name = f"{code}+{hard}", f"{name}, {HARD_LIVES[hard]}"
        codes.append(code)
        names.append(name)
        of.append(joint)
    return number, Kinds(tuple(codes), tuple(names), np.array(of, dtype=np.intp))


def looked_at(choices: Choices) -> Looked:
    """Every series of accepted studies that the choice of joints, timbers, glues and what they lived through reaches.

    Action and kind of test don't narrow it, so that what they leave out can be counted.
    """
    source = book.read(choices.footing)
    read, words = source.read, source.vocabulary
    there = read.column("missing") != NO_ROW
    for name, chosen, known in (
        ("joint", choices.joints, words.joints),
        ("timber", choices.timbers, words.timbers),
        ("adhesive", choices.adhesives, words.adhesives),
    ):
        if chosen:
            wanted = [at for at, code in enumerate(known.codes) if code in chosen]
            there = there & np.isin(read.places(name), wanted)
    if choices.groups:
        grown = set(Timber.objects.filter(group__in=choices.groups).values_list("pk", flat=True))
        wanted = [at for at, code in enumerate(words.timbers.codes) if code in grown]
        there = there & np.isin(read.places("timber"), wanted)
    if choices.conditioning:
        lived = [CONDITIONINGS.index(one) for one in choices.conditioning]
        there = there & np.isin(read.column("conditioning"), lived)
    at = np.flatnonzero(there)
    at = at[np.argsort(read.column("id")[at], kind="stable")]
    kind, kinds = _kinds(read, at)
    return Looked(source, at, kind, kinds, choices.flagged)


def series_frame(choices: Choices) -> pd.DataFrame:
    """One row a series of accepted studies with its stored sums on the chosen footing.

    The choices of joint, timber and adhesive narrow the rows; action and kind of test don't, so that what they
    leave out can be counted.

    Returns
    -------
    DataFrame
        What the series is (``series``, ``study``, ``joint``, ``timber`` and so on), ``series_id``, ``n``, ``held``,
        ``sum_log``, ``sum_sq_log``, ``all_n``, ``flagged`` (specimens doubted), ``summary_only`` (bool), ``mean_log``,
        ``sd_log``. ``joint`` names what is averaged as one, ``joint_code`` the vocabulary's joint.
    """
    return looked_at(choices).frame()


def with_logs(frame: pd.DataFrame) -> pd.DataFrame:
    """Add the mean and standard deviation of the logs from the stored sums.

    A summary with no stated count stores its sums as for one specimen, so it is read as one here.
    """
    mean, spread = logs_of(*(frame[name].to_numpy(float) for name in ("n", "sum_log", "sum_sq_log")))
    return frame.assign(mean_log=mean, sd_log=spread)


def logs_of(n: Array, sum_log: Array, sum_sq_log: Array) -> tuple[Array, Array]:
    """Mean and standard deviation of logs from stored sums; NaN where unknown."""
    count = np.nan_to_num(n, nan=1.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = sum_log / np.where(count > 0, count, np.nan)
        squares = sum_sq_log - count * mean**2
        spread = np.sqrt(np.maximum(squares, 0.0) / np.where(count > 1, count - 1, np.nan))
        return mean, np.where(spread > 1e-9, spread, np.nan)


def size_of(thickness: Array, depth: Array, length: Array, width: Array) -> Array:
    """What two specimens of one size share: the member's section, or the bonded face where there is none.

    Returns
    -------
    ndarray, shape (series, 2)
        In tenths of a millimetre's accuracy [mm]; NaN twice where it isn't recorded.
    """
    member, face = np.column_stack([thickness, depth]), np.column_stack([length, width])
    chosen: Array = np.where(_any_unknown(member), face, member)
    return np.round(np.where(_any_unknown(chosen), np.nan, chosen), 1)


def _any_unknown(sides: Array) -> Array:
    return np.asarray(np.isnan(sides).any(axis=1))[:, None]


def setup_name(key: int) -> str:
    """What a setup is called in its study."""
    return Setup.objects.values_list("label", flat=True).get(pk=key)


def specimen_frame(series_ids: list[int], footing: str, action: str, *, flagged: bool) -> pd.DataFrame:
    """One row a specimen that has a value on the footing.

    Returns
    -------
    DataFrame
        ``specimen_id``, ``specimen``, ``series_id``, ``value``, ``outcome``, ``flagged``, ``failure_place``,
        ``failure_place_name``.
    """
    field = specimen_field(footing, action)
    rows = Specimen.objects.told().filter(**{f"{field}__isnull": False})
    if not flagged:
        rows = rows.filter(flagged=False)
    columns = {
        "id": "specimen_id",
        "label": "specimen",
        "series_id": "series_id",
        field: "value",
        "outcome": "outcome",
        "flagged": "flagged",
        "failure_place_id": "failure_place",
        "failure_place__name": "failure_place_name",
    }
    found: list[tuple] = []
    for start in range(0, len(series_ids), 10_000):  # SQLite takes only so many values in one query
        part = rows.filter(series_id__in=series_ids[start : start + 10_000])
        found += part.order_by("series_id", "position").values_list(*columns)
    return pd.DataFrame.from_records(found, columns=list(columns.values()))
