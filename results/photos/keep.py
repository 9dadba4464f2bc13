"""Photos into the book and out of it: files and rows together, or neither."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.conf import settings
from django.contrib.auth.models import User
from django.core.files.base import ContentFile
from django.db import transaction
from django.utils import timezone

from results.models import Photo, Series, Specimen, Study, bump

from .remake import Refused, Remade


class Closed(ValueError):
    """A withdrawn study, which can't be changed any more."""


@dataclass(frozen=True)
class Sent:
    """A picture that was made anew, and what was said of it.

    Parameters
    ----------
    remade : Remade
        The picture.
    caption : str
        What it shows.
    series : Series or None
        The series it is of, if it is of one.
    specimen : Specimen or None
        The specimen it is of, which belongs to that series.
    """

    remade: Remade
    caption: str
    series: Series | None = None
    specimen: Specimen | None = None

    def is_kept_as(self, photo: Photo) -> bool:
        """Whether a photo says the same of this picture already."""
        said = (self.caption, self.series and self.series.pk, self.specimen and self.specimen.pk)
        return said == (photo.caption, photo.series_id, photo.specimen_id)


@dataclass
class Kept:
    """What became of pictures that were sent.

    Parameters
    ----------
    added : int
        How many are new.
    refused : dict of int to Refused
        Those that were not taken, by their place among the sent.
    """

    added: int = 0
    refused: dict[int, Refused] = field(default_factory=dict)


def add(study: Study, user: User, pictures: Sequence[Sent]) -> Kept:
    """Keep photos of a study.

    Parameters
    ----------
    study : Study
        One of the user's own.
    user : User
        Who sends them.
    pictures : sequence of Sent
        The pictures.

    Returns
    -------
    Kept
        How many were added, and which were not: those that are there already, and those beyond what a study may
        have. One that is there with the very same words was sent twice, and is passed over without complaint.

    Raises
    ------
    Closed
        If the study is withdrawn.
    OSError
        If a file could not be written; then none is kept.
    """
    written: list[Photo] = []
    kept = Kept()
    try:
        with transaction.atomic():
            locked = _open(study)
            there = {photo.sha256: photo for photo in locked.photos.all()}
            for at, one in enumerate(pictures):
                before = there.get(one.remade.sha256)
                if before is not None:
                    if not one.is_kept_as(before):
                        kept.refused[at] = _twice(before)
                elif len(there) >= settings.PHOTOS_MOST:
                    kept.refused[at] = _too_many()
                else:
                    there[one.remade.sha256] = _write(locked, user, one, written)
                    kept.added += 1
            if kept.added:
                _changed(locked)
    except BaseException:
        _drop(written)
        raise
    return kept


def _write(study: Study, user: User, one: Sent, written: list[Photo]) -> Photo:
    """The files first, the row after them, so that there is never a row without its files."""
    photo = Photo(
        study=study,
        series=one.series,
        specimen=one.specimen,
        caption=one.caption,
        width=one.remade.width,
        height=one.remade.height,
        size_bytes=len(one.remade.picture),
        sha256=one.remade.sha256,
        sent_by=user,
    )
    written.append(photo)
    # Named before they are written: a file of which only half fitted is taken away by its name.
    photo.file.name = photo.file.field.generate_filename(photo, "")
    photo.thumbnail.name = photo.thumbnail.field.generate_filename(photo, "")
    photo.file.storage.save(photo.file.name, ContentFile(one.remade.picture))
    photo.thumbnail.storage.save(photo.thumbnail.name, ContentFile(one.remade.small))
    photo.save(force_insert=True)
    return photo


def _drop(written: Sequence[Photo]) -> None:
    for photo in written:
        photo.drop_files()


def change(photo: Photo, *, caption: str, series: Series | None, specimen: Specimen | None) -> None:
    """Say something else of a photo.

    Raises
    ------
    Closed
        If the study is withdrawn.
    """
    with transaction.atomic():
        study = _open(photo.study)
        photo.caption, photo.series, photo.specimen = caption, series, specimen
        photo.save(update_fields=["caption", "series", "specimen"])
        _changed(study)


def remove(photo: Photo) -> None:
    """Take a photo out for good, its files with it.

    Raises
    ------
    Closed
        If the study is withdrawn.
    """
    with transaction.atomic():
        study = _open(photo.study)
        photo.delete()
        _changed(study)


def _open(study: Study) -> Study:
    """The study as it is now, held so that nobody adds to it meanwhile."""
    locked = Study.objects.select_for_update().get(pk=study.pk)
    if locked.status == Study.Status.WITHDRAWN:
        raise Closed("A withdrawn study can't be changed any more, its photos neither.")
    return locked


def _changed(study: Study) -> None:
    Study.objects.filter(pk=study.pk).update(changed_at=timezone.now())
    if study.is_public:
        bump()


def _twice(before: Photo) -> Refused:
    return Refused(
        "twice",
        f"This very picture is here already, as “{before.caption}”.",
        "Change what is said of that one, or send another picture.",
    )


def _too_many() -> Refused:
    return Refused(
        "too-many",
        f"A study has room for {settings.PHOTOS_MOST} photos, and this one is full.",
        "Remove one that says less first.",
    )
