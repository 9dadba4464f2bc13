"""The plan that a study says it follows: a number read, and held against the plans there are."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from results.models import Plan

from .columns import Column
from .rows import Row

if TYPE_CHECKING:
    from .values import Values

# As people write it: 12, plan 12, or the page's address.
_NUMBER = re.compile(r"(?:https?://\S*?/plans/|/?plans/|plan\s*(?:no\.?|#)?\s*|#)?(\d{1,18})/?", re.IGNORECASE)


def read_plan(values: Values, row: Row, column: Column, text: str) -> Plan | None:
    """The plan that the study may follow; None, with a finding, for another.

    Notes
    -----
    A plan is its maker's promise, so only a study of theirs can keep it: somebody else could otherwise choose, once
    the test is done, a plan that happens to fit. Whoever likes a plan lodges their own like it first.
    """
    found = _NUMBER.fullmatch(text.strip())
    if found is None:
        values.note(
            "not-a-plan",
            f"Plan {text[:40]!r} is no number of a plan.",
            "Write the number that the plan's page shows, such as 12; leave it blank if there is none.",
            row=row,
            column=column.name,
        )
        return None
    plan = Plan.objects.filter(pk=int(found[1])).first()
    if plan is None:
        _note(values, row, column, "unknown-plan", f"There is no plan {found[1]}.", "Check the number on its page.")
    elif values.by is not None and plan.contributor_id != values.by:
        remedy = "Leave it blank; next time open that plan and lodge your own like it before testing."
        _note(values, row, column, "plan-of-another", f"Plan {plan.pk} was lodged by somebody else.", remedy)
    elif plan.is_withdrawn:
        message = f"Plan {plan.pk} was withdrawn on {plan.withdrawn_at:%Y-%m-%d}."
        _note(values, row, column, "plan-withdrawn", message, "Leave it blank: a withdrawn plan promises nothing.")
    else:
        return plan
    return None


def _note(values: Values, row: Row, column: Column, code: str, message: str, remedy: str) -> None:
    values.note(code, message, remedy, row=row, column=column.name)
