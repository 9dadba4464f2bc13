"""What is typed beside photos: the caption, and which series and specimen they are of."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Self

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from results.intake.rows import same_label
from results.models import Photo, Series, Specimen, Study
from results.photos.keep import Sent
from results.photos.remake import Refused, remake, too_large

# Photos that can be added at once.
ROWS = 5
CAPTION_MOST = Photo._meta.get_field("caption").max_length
# Specimens named where one isn't found.
NAMED_MOST = 6


@dataclass
class Said:
    """What is typed of a photo.

    Parameters
    ----------
    caption, series, specimen : str
        As typed; series and specimen by their label.
    faults : dict of str to str
        What is wrong, by the field.
    found_series, found_specimen : Series, Specimen or None
        What the labels mean.
    """

    caption: str = ""
    series: str = ""
    specimen: str = ""
    faults: dict[str, str] = field(default_factory=dict)
    found_series: Series | None = None
    found_specimen: Specimen | None = None

    @classmethod
    def of(cls, photo: Photo) -> Said:
        """What is said of a photo now."""
        return cls(
            photo.caption,
            photo.series.label if photo.series else "",
            photo.specimen.label if photo.specimen else "",
        )

    @classmethod
    def posted(cls, data: Mapping[str, str], study: Study, suffix: str = "") -> Self:
        """What was sent, checked."""
        caption, series, specimen = (
            " ".join(data.get(f"{name}{suffix}", "").split()) for name in ("caption", "series", "specimen")
        )
        said = cls(caption, series, specimen)
        said._check_caption()
        said._find(study)
        return said

    @property
    def mark(self) -> str:
        """Tells what is said from what somebody else says."""
        return json.dumps([self.caption, self.series, self.specimen])

    def _check_caption(self) -> None:
        if not self.caption:
            self.faults["caption"] = (
                "The caption is blank; say what the photo shows, such as: tenon broken off at the shoulder, its glue "
                "line whole. It is read to those who can't see the photo."
            )
        elif CAPTION_MOST is not None and len(self.caption) > CAPTION_MOST:
            self.faults["caption"] = f"The caption has {len(self.caption)} characters; {CAPTION_MOST} fit."
        elif not self.caption.isprintable():
            self.faults["caption"] = "The caption holds a character that can't be kept; type it again."

    def _find(self, study: Study) -> None:
        series: list[Series] = list(study.series.all())
        if self.series:
            named = [one for one in series if same_label(one.label) == same_label(self.series)]
            if not named:
                self.faults["series"] = f"The study has no series {self.series[:40]!r}; choose one from the list."
                return
            self.found_series = named[0]
        if not self.specimen:
            return
        among: list[Series] = [self.found_series] if self.found_series else series
        specimens = Specimen.objects.filter(series__in=among, label__iexact=self.specimen)
        # A database that holds no NUL refuses to look for one.
        found = list(specimens.select_related("series")[: NAMED_MOST + 1]) if "\0" not in self.specimen else []
        if len(found) == 1:
            self.found_specimen, self.found_series = found[0], found[0].series
        elif found:
            where = ", ".join(one.series.label for one in found[:NAMED_MOST])
            self.faults["specimen"] = f"Several series have a specimen {self.specimen[:40]!r}: {where}. Choose one."
        else:
            self.faults["specimen"] = f"There is no specimen {self.specimen[:40]!r}{_there(among)}."


def _there(series: list[Series]) -> str:
    """Which specimens there are, to be named after one that isn't."""
    if len(series) != 1:
        return " in any series of the study"
    labels = list(series[0].specimens.values_list("label", flat=True)[: NAMED_MOST + 1])
    if not labels:
        return f"; series {series[0].label} has none"
    more = ", …" if len(labels) > NAMED_MOST else ""
    return f" in series {series[0].label}; it has {', '.join(labels[:NAMED_MOST])}{more}"


@dataclass
class Row(Said):
    """One row of the form for new photos.

    Parameters
    ----------
    sent : Sent or None
        The picture with what was said of it, if nothing is wrong with either.
    """

    sent: Sent | None = None


def read_rows(data: Mapping[str, str], files: Mapping[str, UploadedFile], study: Study) -> list[Row]:
    """The rows that hold something, each checked; one that says what is missing if none does."""
    rows = []
    for number in range(ROWS):
        file = files.get(f"photo-{number}")
        if file is None and not any(data.get(f"{name}-{number}", "").strip() for name in ("caption", "specimen")):
            continue
        row = Row.posted(data, study, f"-{number}")
        _take(row, file)
        rows.append(row)
    return rows or [Row(faults={"photo": "No photo was chosen. Choose one, and say what it shows."})]


def _take(row: Row, file: UploadedFile | None) -> None:
    if file is None:
        row.faults["photo"] = "No photo was chosen for this caption."
        return
    try:
        if file.size and file.size > settings.PHOTO_MAX_MB * 1_000_000:
            raise too_large(file.size, settings.PHOTO_MAX_MB)
        remade = remake(file.read(), settings.PHOTO_MAX_MB)
    except Refused as refused:
        row.faults["photo"] = str(refused)
        return
    if not row.faults:
        row.sent = Sent(remade, row.caption, row.found_series, row.found_specimen)


@dataclass(frozen=True)
class Group:
    """Photos that belong together.

    Parameters
    ----------
    series : Series or None
        What they are of; None for the study as a whole.
    photos : list of Photo
        Those of the series as a whole first, then by specimen.
    """

    series: Series | None
    photos: list[Photo]


def groups_of(study: Study) -> list[Group]:
    """A study's photos: those of it as a whole, then series by series."""
    found: dict[Series | None, list[Photo]] = {}
    for photo in _in_order(study.photos.select_related("series", "specimen")):
        found.setdefault(photo.series, []).append(photo)
    return [Group(series, photos) for series, photos in found.items()]


def _in_order(photos: Iterable[Photo]) -> list[Photo]:
    def place(photo: Photo) -> tuple[int, int, int]:
        specimen = photo.specimen
        return photo.series_id or 0, (specimen.position + 1) if specimen else 0, (specimen.pk if specimen else 0)

    return sorted(photos, key=place)
