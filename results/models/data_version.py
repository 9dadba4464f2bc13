"""The version of the data: a number that rises whenever something that readers may see has changed."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import Any

from django.db import connections, models
from django.db.models import F
from django.db.models.signals import post_delete, post_save
from django.dispatch import receiver
from django.utils import timezone

from .finding import Finding
from .footing import SeriesFooting
from .series import Series, Summary
from .setup import Setup
from .specimen import Specimen
from .study import Study
from .vocabulary import AdhesiveClass, FailurePlace, Instrument, Joint, JointFamily, Loading, Timber

_ROW = 1


class DataVersion(models.Model):
    """One row. Whoever changes data raises it in the same transaction, so no reader sees one without the other."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=_ROW, editable=False)
    number = models.PositiveBigIntegerField(default=0)
    # A database put back from a copy counts the same numbers again, for other data; the mark tells them apart.
    mark = models.UUIDField(default=uuid.uuid4)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(id=_ROW), name="data_version_one_row")]

    def __str__(self) -> str:
        return f"{self.number}-{self.mark.hex[:8]}"


def bump() -> None:
    """Raise the data version; call it in the transaction that changes the data."""
    now = {"mark": uuid.uuid4(), "changed_at": timezone.now()}
    if not DataVersion.objects.filter(pk=_ROW).update(number=F("number") + 1, **now):
        DataVersion.objects.bulk_create([DataVersion(number=1, **now)], ignore_conflicts=True)


def data_version() -> DataVersion:
    """The data version as it is now; number 0 for a book in which nothing was ever saved."""
    # Asked for in every request: as plain SQL it takes a quarter of the time, which is most of a short answer's.
    found = next(iter(DataVersion.objects.raw(f"SELECT * FROM {DataVersion._meta.db_table}")), None)
    return found or DataVersion(mark=uuid.UUID(int=0), changed_at=datetime(1970, 1, 1, tzinfo=UTC))


def version_now() -> str:
    """The data version as it is now, in short: what `str` says of `data_version`, without a record made for it.

    A page that is kept whole needs no more of it, and to make the record takes longer than to ask the database.
    """
    with connections[DataVersion.objects.db].cursor() as cursor:
        cursor.execute(f"SELECT number, mark FROM {DataVersion._meta.db_table}")
        found = cursor.fetchone()
    number, mark = found or (0, uuid.UUID(int=0))
    return f"{number}-{str(mark)[:8]}"  # with or without its strokes, the first comes after eight


# What readers see. Rows saved or deleted one by one raise the version by themselves; whoever saves in bulk calls
# `bump`, since the database then tells nobody.
_SEEN = frozenset(
    {
        AdhesiveClass,
        FailurePlace,
        Finding,
        Instrument,
        Joint,
        JointFamily,
        Loading,
        Series,
        SeriesFooting,
        Setup,
        Specimen,
        Study,
        Summary,
        Timber,
    }
)


@receiver([post_save, post_delete], dispatch_uid="data_version")
def _on_change(sender: type[models.Model], raw: bool = False, **kwargs: Any) -> None:
    if sender in _SEEN and not raw:
        bump()
