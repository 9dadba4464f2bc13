"""A person's own account: what it is made of, how to be told, and leaving."""

from __future__ import annotations

from typing import Any, cast

from allauth.account.adapter import get_adapter
from allauth.account.models import EmailAddress
from allauth.mfa.utils import is_mfa_enabled
from django import forms
from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.decorators import method_decorator
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods
from django.views.generic.edit import FormView
from rest_framework.authtoken.models import Token

from results.accounts.leave import leave, leaving
from results.models import Profile
from results.review.digest import address_of, profile_of
from results.site.requests import SomebodysRequest

from .account_views import Telling
from .in_language import named


class HowTold(forms.ModelForm):
    class Meta:
        model = Profile
        fields = ["digest"]
        labels = {"digest": "What happens on your studies, by e-mail"}


@login_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def account(request: SomebodysRequest) -> HttpResponse:
    """What the account is made of, with the way to each part; and how to be told."""
    profile = profile_of(request.user)
    form = HowTold(request.POST or None, instance=profile)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, gettext("From now on: %(digest)s.") % {"digest": named(profile.get_digest_display())})
        return redirect("account:account")
    addresses = EmailAddress.objects.filter(user=request.user)
    context = {
        "form": form,
        "address": next((one for one in addresses if one.primary), None),
        "told_at": address_of(request.user),
        "awaited": next((one for one in addresses if not one.verified), None),
        "second_factor": is_mfa_enabled(request.user),
        "token": Token.objects.filter(user=request.user).first(),
    }
    return render(request, "account/account.html", context, status=422 if form.errors else 200)


class Farewell(forms.Form):
    """The password, and the name typed out: nobody leaves by a slip."""

    name = forms.CharField(label="Your username", widget=forms.TextInput(attrs={"autocomplete": "off"}))
    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user
        self.fields["name"].help_text = f"Type it as it is: {user.get_username()}"
        if not user.has_usable_password():  # an account that staff made without one
            del self.fields["password"]

    def clean_name(self) -> str:
        name = self.cleaned_data["name"].strip()
        if name != self.user.get_username():
            raise forms.ValidationError(f"“{name}” is not this account's name, which is {self.user.get_username()}.")
        return name

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        # Asked for last, so that a slip in the name takes no try of the password.
        if not self.errors and "password" in cleaned:
            adapter = get_adapter()
            try:
                right = adapter.reauthenticate(self.user, cleaned["password"])
            except forms.ValidationError as too_often:
                self.add_error("password", too_often)
            else:
                if not right:
                    self.add_error("password", adapter.validation_error("incorrect_password"))
        return cleaned


@method_decorator([login_required, never_cache, sensitive_post_parameters("password")], name="dispatch")
class Delete(Telling, FormView):
    """Says what goes and what stays, then deletes the account."""

    form_class = Farewell
    template_name = "account/delete.html"

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "user": self.request.user}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(leaving=leaving(cast(User, self.request.user)), **kwargs)

    def form_valid(self, form: Farewell) -> HttpResponse:
        user = cast(User, self.request.user)
        leave(user)
        logout(self.request)
        return redirect("account:deleted")


delete = Delete.as_view()


def deleted(request: HttpRequest) -> HttpResponse:
    """The last page; it knows nobody any more."""
    return render(request, "account/deleted.html")
