"""Signing up, logging in, passwords, addresses and second factors: the views of allauth, with answers that tell.

A form that was refused answers 422, and 429 where it was tried too often, so that programs see it too.
"""

from __future__ import annotations

from typing import Any

from allauth.account import views as account
from allauth.mfa.base import views as codes
from allauth.mfa.recovery_codes import views as recovery
from allauth.mfa.totp import views as totp
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse

from .errors import wait_told

TOO_OFTEN = {"too_many_login_attempts", "rate_limited"}
# For pages that send somebody to their mail, which a demonstration prints instead.
WHERE_MAIL_GOES = {"demo": lambda: settings.DEMO}


class Telling:
    """Answer a refused form with the status that says so."""

    def form_invalid(self, form: Any) -> HttpResponse:
        response: HttpResponse = super().form_invalid(form)  # type: ignore[misc]  # of the view that this is mixed into
        if any(error.code in TOO_OFTEN for found in form.errors.as_data().values() for error in found):
            response.status_code = 429
            return wait_told(response)
        response.status_code = 422
        return response


class LogIn(Telling, account.LoginView):
    pass


class SignUp(Telling, account.SignupView):
    pass


class ConfirmAddress(account.ConfirmEmailView):
    """A link that is wrong, used or too old gets a page that says what to do, whether it is opened or sent."""

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().get(request, *args, **kwargs)
        if self.object is None:
            response.status_code = 404
        return response

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return super().post(request, *args, **kwargs)
        except Http404:
            return self.get(request, *args, **kwargs)


class Address(Telling, account.EmailView):
    extra_context = WHERE_MAIL_GOES


class ChangePassword(Telling, account.PasswordChangeView):
    pass


class SetPassword(Telling, account.PasswordSetView):
    pass


class AskForReset(Telling, account.PasswordResetView):
    pass


class ResetPassword(Telling, account.PasswordResetFromKeyView):
    def render_to_response(self, context: dict[str, Any], **kwargs: Any) -> HttpResponse:
        if context.get("token_fail"):
            kwargs["status"] = 404
        return super().render_to_response(context, **kwargs)


class PasswordAgain(Telling, account.ReauthenticateView):
    pass


class Code(Telling, codes.AuthenticateView):
    pass


class CodeAgain(Telling, codes.ReauthenticateView):
    pass


class TurnOn(Telling, totp.ActivateTOTPView):
    pass


class TurnOff(Telling, totp.DeactivateTOTPView):
    pass


log_in = LogIn.as_view()
log_out = account.LogoutView.as_view()
sign_up = SignUp.as_view()
closed = account.AccountInactiveView.as_view()
mail_sent = account.EmailVerificationSentView.as_view(extra_context=WHERE_MAIL_GOES)
confirm_address = ConfirmAddress.as_view()
address = Address.as_view()
change_password = ChangePassword.as_view()
set_password = SetPassword.as_view()
ask_for_reset = AskForReset.as_view()
reset_asked = account.PasswordResetDoneView.as_view(extra_context=WHERE_MAIL_GOES)
reset_password = ResetPassword.as_view()
password_reset = account.PasswordResetFromKeyDoneView.as_view()
password_again = PasswordAgain.as_view()
second_factor = codes.IndexView.as_view()
code = Code.as_view()
code_again = CodeAgain.as_view()
turn_on = TurnOn.as_view()
turn_off = TurnOff.as_view()
recovery_codes = recovery.ViewRecoveryCodesView.as_view()
new_recovery_codes = recovery.GenerateRecoveryCodesView.as_view()
kept_recovery_codes = recovery.DownloadRecoveryCodesView.as_view()
