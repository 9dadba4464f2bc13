"""A model's own fields by their names."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import FieldDoesNotExist
from django.db import models


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
