"""A form's field for what somebody says in a few lines."""

from __future__ import annotations

from typing import Any

from django import forms


class Prose(forms.CharField):
    """Some lines of text; the end of a line counts once, as it does while typing.

    Parameters
    ----------
    most : int
        Characters taken.
    rows : int
        Lines that it shows at first.
    error_messages : dict of str to str, optional
        What is said otherwise than usual.
    """

    def __init__(
        self, *, most: int, rows: int = 4, error_messages: dict[str, str] | None = None, **kwargs: Any
    ) -> None:
        too_long = f"This is %(show_value)s characters long; the most is {most:,}. Nothing was cut: shorten it."
        super().__init__(
            max_length=most,
            widget=forms.Textarea(attrs={"rows": rows}),
            error_messages={
                "required": "This is blank; say it in a sentence or two.",
                "max_length": too_long,
                **(error_messages or {}),
            },
            **kwargs,
        )

    def to_python(self, value: Any) -> str:
        return (super().to_python(value) or "").replace("\r\n", "\n")
