"""What is new for a person, by e-mail, as often as they chose."""

from __future__ import annotations

import smtplib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from allauth.account.models import EmailAddress
from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.auth.models import User
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.db import transaction
from django.db.models import Q
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from results.models import Notice, Profile
from results.site.mail import mailer

DIGEST = Profile.Digest
# A little less than the day and the week, since who calls this every day at seven isn't always as punctual.
EVERY: dict[str, timedelta] = {DIGEST.DAILY: timedelta(hours=20), DIGEST.WEEKLY: timedelta(days=6, hours=12)}
# More than this is read on the page.
MOST = 50
# What the server says before it is told of any message.
_BEFORE_ANY = (smtplib.SMTPConnectError, smtplib.SMTPHeloError, smtplib.SMTPAuthenticationError)


@dataclass
class Sent:
    """What a run did.

    Parameters
    ----------
    people, notices : int
        How many were written to, and of how much.
    troubles : list of str
        What could not be sent, and why; it is tried again next time.
    """

    people: int = 0
    notices: int = 0
    troubles: list[str] = field(default_factory=list)


def profile_of(user: User) -> Profile:
    """A person's profile, made when first asked for."""
    return Profile.objects.get_or_create(user=user)[0]


def address_of(user: User) -> str:
    """Where a person gets e-mail: an address that they have confirmed; empty if there is none."""
    known = list(EmailAddress.objects.filter(user=user).order_by("-primary", "pk"))
    if not known:  # the account is older than confirming, or was made by staff
        return user.email
    return next((one.email for one in known if one.verified), "")


def send_digests(now: datetime | None = None) -> Sent:
    """Send everybody who is due what is new for them.

    Parameters
    ----------
    now : datetime, optional
        The time it is taken to be.

    Returns
    -------
    Sent

    Notes
    -----
    A person's notices are marked in the transaction in which the message is handed over, one person at a time: a run
    that is killed leaves those before it marked and those after it unmarked, and a second run beside it passes over
    whoever is being written to. Should it be killed between handing a message over and the end of its transaction,
    the message goes out again, under the same Message-ID, by which mailboxes know it for the same.
    """
    now = now or timezone.now()
    sent = Sent()
    connection = mailer()
    for user in _with_news():
        address = address_of(user)
        try:
            with transaction.atomic():
                sent.notices += (count := _send(user, address, now, connection))
            sent.people += bool(count)
        except (OSError, ValueError) as trouble:
            if _of_the_server(trouble):
                sent.troubles.append(f"The mail server can't be reached, so no more was tried: {trouble}")
                break
            sent.troubles.append(f"{user.get_username()} <{address}>: {trouble}")
    return sent


def _with_news() -> Iterator[User]:
    new = Notice.objects.filter(sent_at=None, seen_at=None)
    wanted = ~Q(profile__digest=DIGEST.NEVER)
    yield from get_user_model().objects.filter(wanted, is_active=True, pk__in=new.values("user")).order_by("pk")


def _of_the_server(trouble: Exception) -> bool:
    """Whether the next message would fare no better; a server that hangs up may do so over what one of them says."""
    if isinstance(trouble, smtplib.SMTPException):
        return isinstance(trouble, _BEFORE_ANY)
    return isinstance(trouble, OSError)


def _send(user: User, address: str, now: datetime, connection: BaseEmailBackend) -> int:
    """Write to one person, if that is due; how many notices it was about."""
    profile_of(user)
    # Whoever is being written to by another run isn't waited for.
    profile = Profile.objects.select_for_update(skip_locked=True).filter(user=user).first()
    if profile is None or profile.digest == DIGEST.NEVER or not address:
        return 0
    if profile.told_until is not None and now - profile.told_until < EVERY[profile.digest]:
        return 0
    new = list(user.notices.filter(sent_at=None, seen_at=None).select_related("study"))
    if not new:
        return 0
    Notice.objects.filter(pk__in=[one.pk for one in new]).update(sent_at=now)
    Profile.objects.filter(pk=profile.pk).update(told_until=now)
    connection.send_messages([_message(user, address, profile, new)])
    return len(new)


def _message(user: User, address: str, profile: Profile, new: list[Notice]) -> EmailMessage:
    site = settings.SITE_ADDRESS
    page = f"{site}{reverse('notices:mine')}"
    context = {
        "user": user,
        "new": [(one, f"{site}{one.address}") for one in new[:MOST]],
        "more": max(len(new) - MOST, 0),
        "page": page,
        "profile": profile,
    }
    count = "1 notice" if len(new) == 1 else f"{len(new)} notices"
    host = site.partition("://")[2].partition(":")[0]
    return EmailMessage(
        subject=f"Breakbook: {count}",
        body=render_to_string("notices/digest.txt", context),
        to=[address],
        headers={
            "Message-ID": f"<digest-{user.pk}-{new[0].pk}-{len(new)}@{host}>",
            "List-Unsubscribe": f"<{page}>",
            "Auto-Submitted": "auto-generated",
        },
    )
