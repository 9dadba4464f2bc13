"""The forms of accounts, in this site's words."""

from __future__ import annotations

from typing import Any

from allauth.account import forms as account
from allauth.mfa.base import forms as codes
from allauth.mfa.totp import forms as totp
from django import forms

_LABELS = {
    "login": "Username or e-mail",
    "username": "Username",
    "email": "E-mail",
    "oldpassword": "Password as it is now",
    "password": "Password",
}


class OurWords(forms.Form):
    """Labels that are said once: what stands in an empty box is gone as soon as somebody types."""

    labels: dict[str, str] = {}
    helps: dict[str, str] = {}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            field.widget.attrs.pop("placeholder", None)
            field.label = {**_LABELS, **self.labels}.get(name, field.label)
            field.help_text = self.helps.get(name, field.help_text)


class LogIn(OurWords, account.LoginForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["login"].widget.attrs["autocomplete"] = "username"


class SignUp(OurWords, account.SignupForm):
    labels = {"password2": "Password again"}
    helps = {
        "username": "Letters, digits and @ . + - _ only. It isn't shown with your studies; it stands beside what you "
        "ask or answer.",
        "email": "It is never shown. A mail to it confirms the account, resets a lost password and tells of remarks.",
    }


class NewAddress(OurWords, account.AddEmailForm):
    labels = {"email": "New e-mail"}


class ChangePassword(OurWords, account.ChangePasswordForm):
    labels = {"password1": "New password", "password2": "New password again"}


class SetPassword(OurWords, account.SetPasswordForm):
    labels = {"password1": "Password", "password2": "Password again"}


class AskForReset(OurWords, account.ResetPasswordForm):
    helps = {"email": "The one you signed up with."}


class ResetPassword(OurWords, account.ResetPasswordKeyForm):
    labels = {"password1": "New password", "password2": "New password again"}


class PasswordAgain(OurWords, account.ReauthenticateForm):
    pass


class _Numeric(OurWords):
    """Codes are digits: a phone shows its keypad."""

    labels = {"code": "Code"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["code"].widget.attrs["inputmode"] = "numeric"


class Code(_Numeric, codes.AuthenticateForm):
    helps = {"code": "Six digits from your app, or one of your recovery codes."}


class CodeAgain(_Numeric, codes.ReauthenticateForm):
    helps = {"code": "Six digits from your app, or one of your recovery codes."}


class FirstCode(_Numeric, totp.ActivateTOTPForm):
    helps = {"code": "The six digits that the app shows now."}
