"""What a person was told: on a page, and in a feed of their own; how often it comes by e-mail."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID, uuid4

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.syndication.views import Feed
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.feedgenerator import Atom1Feed
from django.utils.html import escape
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from results.models import Notice, Profile, reviews
from results.review.digest import address_of, profile_of
from results.site.requests import SomebodysRequest

from . import errors
from .changes_feed import writable
from .in_language import named

PER_PAGE = 25
FEED_MOST = 50


class DigestForm(forms.ModelForm):
    class Meta:
        model = Profile
        fields = ("digest",)
        labels = {"digest": "Notices by e-mail"}
        error_messages = {
            "digest": {"invalid_choice": "“%(value)s” is not on offer; choose no e-mail, once a day or once a week."}
        }


@login_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def mine(request: SomebodysRequest) -> HttpResponse:
    """A person's notices; mark them as seen, choose how often they come by e-mail, give the feed a new address."""
    profile = profile_of(request.user)
    form = DigestForm(instance=profile)
    if request.method == "POST":
        if request.POST.get("do") == "digest":
            form = DigestForm(request.POST, instance=profile)
        if not form.is_bound or form.is_valid():
            _do(request, profile, form)
            return redirect("notices:mine")
        profile = profile_of(request.user)  # as it is kept, not as it was refused
    try:
        page = errors.page_of(request, request.user.notices.select_related("study"), PER_PAGE)
    except errors.BadParameter as bad:
        return errors.bad_parameter(request, bad)
    context = {
        "page": page,
        "unseen": request.user.notices.filter(seen_at=None).count(),
        "newest": max((one.pk for one in page), default=0),
        "form": form,
        "address": address_of(request.user),
        "feed": request.build_absolute_uri(reverse("notices:feed", args=[profile.feed_key])),
        "reviewer": reviews(request.user),
    }
    return render(request, "notices/mine.html", context, status=422 if form.errors else 200)


def _do(request: SomebodysRequest, profile: Profile, form: DigestForm) -> None:
    what, which = request.POST.get("do"), request.POST.get("notice", "")
    unseen = request.user.notices.filter(seen_at=None)
    if what == "digest":
        form.save()
        messages.success(
            request, gettext("Notices by e-mail: %(digest)s.") % {"digest": named(profile.get_digest_display())}
        )
    elif what == "new-key":
        Profile.objects.filter(pk=profile.pk).update(feed_key=uuid4())
        messages.success(request, gettext("Your feed has a new address; the one before is known no more."))
    elif what in ("seen", "all-seen") and which.isascii() and which.isdecimal() and len(which) < 19:
        # All: as far as the page showed them, not what came meanwhile.
        unseen = unseen.filter(pk=int(which)) if what == "seen" else unseen.filter(pk__lte=int(which))
        unseen.update(seen_at=timezone.now())


@login_required
@never_cache
@require_GET
def go(request: SomebodysRequest, pk: int) -> HttpResponse:
    """On to what a notice is about, which also marks it as seen."""
    notice = get_object_or_404(request.user.notices, pk=pk)
    if notice.seen_at is None:
        request.user.notices.filter(pk=pk, seen_at=None).update(seen_at=timezone.now())
    return redirect(notice.address)


class Mine(Feed):
    """``/mine/notices/<key>.atom``: whoever knows the key may read it, as feed readers don't log in."""

    feed_type = Atom1Feed
    title = "Breakbook: your notices"
    author_name = "Breakbook"

    def __call__(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        response = super().__call__(request, *args, **kwargs)
        response.headers["Cache-Control"] = "private, no-cache"
        response.headers["X-Robots-Tag"] = "noindex"
        return response

    def get_object(self, request: HttpRequest, key: UUID) -> Profile:
        found = Profile.objects.filter(feed_key=key, user__is_active=True).first()
        if found is None:
            raise Http404("No feed has this key.")
        return found

    def link(self, profile: Profile) -> str:
        return reverse("notices:mine")

    def feed_url(self, profile: Profile) -> str:
        return reverse("notices:feed", args=[profile.feed_key])

    def items(self, profile: Profile) -> list[Notice]:
        return list(Notice.objects.filter(user=profile.user_id).select_related("study")[:FEED_MOST])

    def item_title(self, notice: Notice) -> str:
        return writable(f"{notice.get_what_display().capitalize()}: {notice.study}")

    def item_description(self, notice: Notice) -> str:
        # The feed says that its descriptions are HTML; people's words are not.
        return escape(writable(notice.text))

    def item_link(self, notice: Notice) -> str:
        return notice.address

    def item_guid(self, notice: Notice) -> str:
        return f"urn:breakbook:notice:{notice.pk}"

    def item_pubdate(self, notice: Notice) -> datetime:
        return notice.at

    def item_updateddate(self, notice: Notice) -> datetime:
        return notice.at
