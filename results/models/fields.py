"""A model's own fields by their names, and how the database takes what they hold."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.exceptions import FieldDoesNotExist
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

from .few_bytes import Phrase


def field_of(model: type[models.Model], name: str) -> models.Field[Any, Any]:
    """A field that is a column of the model's table, and no relation that another model has to it.

    Raises
    ------
    FieldDoesNotExist
        If there is none of that name.
    """
    field = model._meta.get_field(name)
    if not isinstance(field, models.Field):
        raise FieldDoesNotExist(f"{model.__name__} has no field {name!r} of its own.")
    return field


def writer_of(field: models.Field[Any, Any], connection: BaseDatabaseWrapper) -> Callable[[Any], Any] | None:
    """What makes of a value of the field what the database takes; None where it takes it as it is.

    It takes most kinds so, and to ask each field for each row takes longest.
    """
    if not isinstance(field, models.JSONField | models.DateTimeField | models.UUIDField | Phrase):
        return None
    return lambda value: None if value is None else field.get_db_prep_value(value, connection, prepared=False)
