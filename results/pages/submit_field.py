"""One input of the form with what stands around it, and the parts that inputs are shown in."""

from __future__ import annotations

from dataclasses import dataclass, field

from results.evidence import Noticed

from .submit_paste import Pasted

Options = list[tuple[str, list[tuple[str, str]]]]


@dataclass
class Field:
    """One input with its label, help and findings.

    Parameters
    ----------
    name : str
        Name and id of the input.
    label, help, value : str
        What stands above, under and in it.
    options : list of (group, list of (value, label))
        For a list to choose from; empty for free text.
    mode : str
        The keyboard a phone shows.
    long : bool
        Whether it takes several lines.
    suggestions : str
        Id of the list of suggestions.
    placeholder : str
        What stands in it while it is blank.
    refresh : bool
        Whether other fields depend on it.
    noticed : list of Noticed
        Findings about it.
    echo : str
        What it was read as.
    focus : bool
        Whether typing goes on here.
    """

    name: str
    label: str
    help: str
    value: str
    required: bool = False
    options: Options = field(default_factory=list)
    mode: str = ""
    long: bool = False
    suggestions: str = ""
    placeholder: str = ""
    refresh: bool = False
    noticed: list[Noticed] = field(default_factory=list)
    column: str = ""
    echo: str = ""
    focus: bool = False

    @property
    def is_wrong(self) -> bool:
        return any(one.severity == "error" for one in self.noticed)

    @property
    def described_by(self) -> str:
        said = {"help": self.help, "echo": self.echo, "found": self.noticed}
        return " ".join(f"{self.name}-{what}" for what, is_there in said.items() if is_there)


@dataclass
class Part:
    """Fields that are shown, and those behind "more"."""

    fields: list[Field]
    more: list[Field] = field(default_factory=list)

    @property
    def is_open(self) -> bool:
        """What is found fault with, or typed in next, is never hidden."""
        return any(one.noticed or one.focus for one in self.more)

    @property
    def filled(self) -> int:
        """How many of the fields behind "more" hold something."""
        return sum(1 for one in self.more if one.value and one.value not in ("own", "no"))


@dataclass
class SpecimenPart(Part):
    number: int = 1
    element: str = ""


@dataclass
class SeriesPart(Part):
    at: int = 0
    title: str = ""
    specimens: list[SpecimenPart] = field(default_factory=list)
    summary: list[Field] = field(default_factory=list)
    by_mean: bool = False
    both: bool = False
    may_have_more: bool = True
    pasted: Pasted | None = None

    @property
    def element(self) -> str:
        return f"series-{self.at}"
