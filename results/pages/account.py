"""Signing up; logging in and out are the framework's own."""

from __future__ import annotations

from django.contrib.auth import login
from django.contrib.auth.forms import UserCreationForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme


def sign_up(request: HttpRequest) -> HttpResponse:
    """Make an account and be logged in with it, back where the reader came from."""
    form = UserCreationForm(request.POST or None)
    onward = request.POST.get("next") or request.GET.get("next") or ""
    if not url_has_allowed_host_and_scheme(onward, {request.get_host()}, request.is_secure()):
        onward = ""
    if request.method == "POST" and form.is_valid():
        login(request, form.save())
        return redirect(onward or "submit:start")
    status = 422 if request.method == "POST" else 200
    return render(request, "account/sign_up.html", {"form": form, "next": onward}, status=status)
