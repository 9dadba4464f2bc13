"""How accounts work here: whose address must be confirmed, mail that can't be sent, and what is said of a mistake."""

from __future__ import annotations

import logging
from contextlib import suppress
from smtplib import SMTPException
from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.models import EmailAddress
from allauth.account.stages import EmailVerificationStage
from allauth.core.exceptions import ImmediateHttpResponse
from allauth.core.internal.ratelimit import get_ip
from allauth.mfa.adapter import DefaultMFAAdapter
from django.contrib.auth.models import User
from django.http import HttpRequest
from django.shortcuts import render
from django.urls import reverse

log = logging.getLogger(__name__)


def must_confirm(user: User | None) -> bool:
    """Whether somebody has to confirm the address they signed up with before they may log in.

    An account without an address of its own was made by staff, and is as good as confirmed. Nobody at all stands for
    somebody who signed up with an address that has an account: they are to see what everybody sees.
    """
    if user is None:
        return True
    return EmailAddress.objects.filter(user_id=user.pk, primary=True, verified=False).exists()


class Confirmation(EmailVerificationStage):
    """The step of logging in at which an unconfirmed address is asked about."""

    def handle(self) -> tuple[Any, bool]:
        return super().handle() if must_confirm(self.login.user) else (None, True)


class Adapter(DefaultAccountAdapter):
    """Accounts by name and password, with an address to be reached at."""

    error_messages = {
        **DefaultAccountAdapter.error_messages,
        "username_taken": "This name is taken; choose another.",
        "username_blacklisted": "This name is kept for those who run the site; choose another.",
        "username_password_mismatch": "Name and password don't belong together. Capitals count in both.",
        "email_password_mismatch": "Address and password don't belong together. Capitals count in the password.",
        "incorrect_password": "This is not your password. Capitals count.",
        "enter_current_password": "This is not your password as it is now. Capitals count.",
        "duplicate_email": "This is your address already.",
        "too_many_login_attempts": "Too many wrong tries. Wait five minutes; until then the right one is refused too.",
        "rate_limited": "Too many wrong tries. Wait five minutes; until then the right one is refused too.",
        "account_inactive": "This account is closed.",
    }

    def get_login_stages(self) -> list[str]:
        asked = f"{EmailVerificationStage.__module__}.{EmailVerificationStage.__qualname__}"
        ours = f"{Confirmation.__module__}.{Confirmation.__qualname__}"
        return [ours if stage == asked else stage for stage in super().get_login_stages()]

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        return reverse("account:account")

    def _get_login_attempts_cache_key(self, request: HttpRequest, **credentials: Any) -> str:
        """What wrong passwords are counted under: a name as it is tried from one address.

        By the name alone, whoever knows it could keep its owner out for as long as they like by trying wrong passwords
        from elsewhere. All tries of an address are counted too, whatever the names (``ACCOUNT_RATE_LIMITS``).
        """
        return f"{super()._get_login_attempts_cache_key(request, **credentials)}:{get_ip(request)}"

    def is_ajax(self, request: HttpRequest) -> bool:
        return False  # every answer is a page

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Send a mail; if that fails, say so on a page instead of breaking.

        What was asked for can be asked for again: an account that was made is kept, and logging in sends the mail
        that confirms it once more.
        """
        try:
            super().send_mail(template_prefix, email, context)
        except (OSError, SMTPException) as error:
            log.error("A mail (%s) could not be sent: %s", template_prefix, error)
            raise ImmediateHttpResponse(render(self.request, "errors/no_mail.html", status=503)) from error

    def send_notification_mail(self, *args: Any, **kwargs: Any) -> None:
        """Tell somebody of a change to their account; the change is made whether or not the mail goes out."""
        with suppress(ImmediateHttpResponse):  # logged above
            super().send_notification_mail(*args, **kwargs)


class SecondFactor(DefaultMFAAdapter):
    """Codes by an app, and recovery codes for when it is lost."""

    error_messages = {
        **DefaultMFAAdapter.error_messages,
        "incorrect_code": "This code isn't right, or was used already. Type the one that the app shows now.",
    }
