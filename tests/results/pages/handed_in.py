"""Studies that wait for a reviewer, and changes to accepted ones."""

from __future__ import annotations

from typing import Any

from results.models import Revision, Study
from results.review.document import examined, written
from results.review.hand_in import change, hand_in_draft, newest_number, waiting
from tests.factories import accept, make_user

from .shops import a_shop


def waits(title: str = "Rails into posts", *, owner: str = "owner", **fields: Any) -> Revision:
    """A new study that waits for review."""
    study = a_shop(title, status=Study.Status.DRAFT, contributor=make_user(owner), **fields)
    return hand_in_draft(study, study.contributor)


def accepted(title: str = "Rails into posts", **fields: Any) -> Study:
    """A study that was handed in and accepted."""
    return accept(waits(title, **fields).study)


def changed(study: Study, *, load_n: float = 200.0, why: str = "misread the scale") -> Revision:
    """A change to a study's first specimen, handed in by its contributor."""
    said = written(study)
    said["series"][0]["specimens"][0] |= {"reading_typed": f"{load_n:g}", "peak_load_n": load_n}
    draft, noticed = examined(said, study)
    return change(study, draft, study.contributor, noticed, why=why, based_on=newest_number(study))


def the_waiting(study: Study) -> Revision:
    """The revision of a study that waits."""
    found = waiting(study)
    assert found is not None
    return found
