"""A plan lodged before the testing, and withdrawn: each in one transaction."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth import get_user_model
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.formats import date_format

from results.models import Plan, Study, bump

from .plan import PlannedTest
from .plan_document import document, promise

DAY = timedelta(days=1)
MOST_A_DAY = 20
"""Plans that one person may lodge in a day."""
REASON_MOST = 2_000


class PlanError(ValueError):
    """A plan that can't be lodged or withdrawn; the message says why."""


class AlreadyLodged(PlanError):
    """The same plan, lodged before by the same person."""

    def __init__(self, first: Plan) -> None:
        self.first = first
        super().__init__(
            f"You lodged this very plan before, as plan {first.pk} on {date_format(first.lodged_at, 'j F Y')}: it "
            "stands as it is. Change something to lodge another, or withdraw that one first."
        )


class TooMany(PlanError):
    """Somebody lodged too many in a day."""


def lodge(
    planned: PlannedTest,
    user: User,
    key: UUID,
    *,
    invented: bool = False,
    at: datetime | None = None,
) -> Plan:
    """Lodge a plan: from now on everybody reads it, and nobody changes it.

    Parameters
    ----------
    planned : PlannedTest
    user : User
        Who plans it, and will hand in the study that follows.
    key : UUID
        Of the page that offered it: lodging the same key twice lodges once.
    invented : bool, optional
        Whether it is made up to show how the book works.
    at : datetime, optional
        When an invented one is said to have been lodged; now unless given.

    Returns
    -------
    Plan
        The plan; the one lodged first, if this key was lodged before.

    Raises
    ------
    PlanError
        If somebody else lodged something under this key.
    AlreadyLodged
        If this person lodged the same plan before, and it isn't withdrawn.
    TooMany
        If this person lodged too many in a day.
    """
    before = Plan.objects.filter(key=key).first()
    if before is not None:
        return _own(before, user)
    made = Plan(
        contributor=user,
        title=planned.title,
        question=planned.question,
        planned=document(planned),
        key=key,
        invented=invented,
        lodged_at=at if at and invented else timezone.now(),
    )
    made.full_clean(validate_unique=False, validate_constraints=False)
    try:
        with transaction.atomic():
            # One after another for one person: a second window could lodge the same at the same moment.
            get_user_model()._default_manager.select_for_update().get(pk=user.pk)
            _refuse_again(made, user)
            made.save(force_insert=True)
            bump()
    except IntegrityError:
        # Two clicks, one key: the other was quicker. Anything else is a fault of ours and must be seen.
        before = Plan.objects.filter(key=key).first()
        if before is None:
            raise
        return _own(before, user)
    return made


def _refuse_again(made: Plan, user: User) -> None:
    """Refuse what this person lodged before, and more than a day may hold."""
    own = Plan.objects.filter(contributor=user)
    promised = promise(made.planned)
    for one in own.filter(status=Plan.Status.LODGED, title=made.title).order_by("lodged_at", "pk"):
        if promise(one.planned) == promised and one.key != made.key:
            raise AlreadyLodged(one)
    if own.filter(lodged_at__gt=timezone.now() - DAY).exclude(key=made.key).count() >= MOST_A_DAY:
        raise TooMany(f"You lodged {MOST_A_DAY} plans in a day; lodge the next one tomorrow.")


def _own(plan: Plan, user: User) -> Plan:
    if plan.contributor_id != user.pk:
        raise PlanError("Somebody else lodged a plan from this page; open the plan anew and lodge it from there.")
    return plan


def withdraw(plan: Plan, user: User, reason: str) -> Plan:
    """Withdraw a plan that no study follows; it stays readable, with the reason. Twice is once.

    Raises
    ------
    PermissionDenied
        If the user didn't lodge it.
    PlanError
        If a study follows it, or no reason is given.
    """
    reason = reason.replace("\0", "").strip()
    if not reason:
        raise PlanError("The reason is blank; say why nobody should wait for this test.")
    with transaction.atomic():
        plan = Plan.objects.select_for_update().get(pk=plan.pk)
        if plan.contributor_id is None or plan.contributor_id != user.pk:
            raise PermissionDenied("Only who lodged a plan may withdraw it.")
        if plan.is_withdrawn:
            return plan
        if Study.objects.filter(plan=plan).exists():
            raise PlanError("A study follows this plan, so it can't be withdrawn; the study says how the test went.")
        plan.status, plan.withdrawn_reason, plan.withdrawn_at = Plan.Status.WITHDRAWN, reason, timezone.now()
        plan.save(update_fields=Plan.LATER)
        bump()
    return plan
