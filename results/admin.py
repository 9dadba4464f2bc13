"""What those who run the site can do that pages don't offer: people, vocabulary, and looking things up."""

from __future__ import annotations

from typing import Any

from allauth.account.decorators import secure_admin_login
from allauth.account.models import EmailAddress, EmailConfirmation
from allauth.mfa.models import Authenticator
from django.contrib import admin, messages
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.models import Group, User
from django.db import models, transaction
from django.db.models import QuerySet
from django.http import HttpRequest
from rest_framework.authtoken.models import TokenProxy

from results.models import (
    AdhesiveClass,
    Answer,
    Entry,
    FailurePlace,
    Instrument,
    Joint,
    JointFamily,
    Loading,
    Plan,
    Question,
    Revision,
    Study,
    Timber,
)

admin.site.site_header = admin.site.site_title = "Breakbook, for staff"
admin.site.index_title = "People, vocabulary and records"
# By the site's own door: its limits, its second factor.
setattr(admin.site, "login", secure_admin_login(admin.site.login))  # noqa: B010 - a method of this one site only

# Secrets, and what people do for themselves.
for model in (User, Group, TokenProxy, EmailAddress, EmailConfirmation, Authenticator):
    if admin.site.is_registered(model):
        admin.site.unregister(model)


@admin.register(User)
class People(UserAdmin):
    """Who may review, who is staff, whose account is closed; addresses and passwords are people's own."""

    list_display = ("username", "email", "is_active", "reviews", "is_staff", "date_joined", "last_login")
    list_filter = ("groups", "is_active", "is_staff")
    search_fields = ("username", "email")
    filter_horizontal = ("groups",)
    readonly_fields = ("email", "last_login", "date_joined")
    fieldsets = (
        (None, {"fields": ("username", "email", "password")}),
        ("May", {"fields": ("is_active", "groups", "is_staff", "is_superuser")}),
        ("Was here", {"fields": ("date_joined", "last_login")}),
    )
    actions = ("take_off_second_factor",)

    @admin.display(boolean=True, description="reviewer")
    def reviews(self, user: User) -> bool:
        return any(group.name == "reviewers" for group in user.groups.all())

    def get_queryset(self, request: HttpRequest) -> QuerySet:
        return super().get_queryset(request).prefetch_related("groups")

    # Staff may not make themselves more than they are.
    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return super().has_change_permission(request, obj) and self._within(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return super().has_delete_permission(request, obj) and self._within(request, obj)

    def _within(self, request: HttpRequest, obj: Any) -> bool:
        return obj is None or request.user.is_superuser or not (obj.is_superuser or obj.is_staff)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        raised = () if request.user.is_superuser else ("is_staff", "is_superuser")
        return (*self.readonly_fields, *raised)

    # Deleting somebody is leaving for them: what stays and what goes is the same as when they do it themselves.
    def get_deleted_objects(self, objs: Any, request: HttpRequest) -> tuple[list, dict, set, list]:
        people = list(objs)
        goes = Study.objects.filter(contributor__in=people).exclude(
            status__in=[Study.Status.ACCEPTED, Study.Status.WITHDRAWN]
        )
        told = [f"account {one.get_username()}" for one in people]
        told += [f"study {one.pk}, {one.get_status_display()}" for one in goes]
        barred = set() if all(self._within(request, one) for one in people) else {"staff"}
        return told, {"accounts": len(people), "studies that were never accepted": len(goes)}, barred, []

    def delete_model(self, request: HttpRequest, obj: User) -> None:
        self.delete_queryset(request, User.objects.filter(pk=obj.pk))

    def delete_queryset(self, request: HttpRequest, queryset: QuerySet) -> None:
        # Loaded when it is needed: each command of manage.py loads this file, and few need all that leaving does.
        from results.accounts.leave import leave

        with transaction.atomic():
            for one in queryset:
                leave(one)

    @admin.action(description="Take off the second factor (phone and recovery codes lost)", permissions=["change"])
    def take_off_second_factor(self, request: HttpRequest, queryset: QuerySet) -> None:
        people = [one for one in queryset if self._within(request, one)]
        with transaction.atomic():
            Authenticator.objects.filter(user__in=people).delete()
            for one in people:
                self.log_change(request, one, "second factor taken off")
        self.message_user(request, f"Taken off {len(people)} of {len(queryset)} accounts.", messages.SUCCESS)


class Vocabulary(admin.ModelAdmin):
    """What people read of a word can be put right; what numbers rest on comes from the cited files.

    `manage.py load_vocabulary` gives the words of those files their values from there again, `restate_footings` then
    makes the stored numbers anew.
    """

    list_display = ["name", "code", "position"]
    search_fields = ["code", "name", "description"]
    said: tuple[str, ...] = ("name", "description", "source", "position")
    may_add = False

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        every = [field.name for field in self.model._meta.concrete_fields]
        return sorted(every, key=lambda name: name != "code" and name not in self.said)

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        return [name for name in self.get_fields(request, obj) if name not in self.said] if obj else []

    def formfield_for_dbfield(self, db_field: models.Field, request: HttpRequest, **kwargs: Any) -> Any:
        found = super().formfield_for_dbfield(db_field, request, **kwargs)
        if found is not None and db_field.null:
            found.required = False
        return found

    def has_add_permission(self, request: HttpRequest) -> bool:
        return self.may_add and super().has_add_permission(request)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False  # records, releases and other people's scripts name it by its code


@admin.register(JointFamily, Loading, Instrument)
class Words(Vocabulary):
    pass


@admin.register(Joint)
class Joints(Vocabulary):
    said = ("name", "description", "source", "position", "also_known_as")
    list_filter = ("family",)


@admin.register(AdhesiveClass, FailurePlace)
class MoreWords(Vocabulary):
    may_add = True


@admin.register(Timber)
class Timbers(Vocabulary):
    list_display = ["name", "code", "scientific_name", "group"]
    search_fields = ["code", "name", "scientific_name"]
    list_filter = ("group",)
    said = ("name", "description", "source", "scientific_name")
    may_add = True


class ReadOnly(admin.ModelAdmin):
    """Records change through revisions and reviews, and through nothing else."""

    hidden: tuple[str, ...] = ()

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        return [field.name for field in self.model._meta.concrete_fields if field.name not in self.hidden]

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Study)
class Studies(ReadOnly):
    list_display = ("title", "id", "status", "workshop", "created_at", "accepted_at")
    list_filter = ("status", "origin", "invented", "licence")
    search_fields = ("title", "workshop", "id")

    def get_queryset(self, request: HttpRequest) -> QuerySet:
        # A draft is read by nobody but its contributor.
        return super().get_queryset(request).exclude(status=Study.Status.DRAFT)


@admin.register(Revision)
class Revisions(ReadOnly):
    list_display = ("study", "number", "state", "made_at", "decided_at", "decided_by")
    list_filter = ("state",)
    search_fields = ("study__title", "study__id")
    list_select_related = ("study", "decided_by")
    hidden = ("document",)

    def get_queryset(self, request: HttpRequest) -> QuerySet:
        return super().get_queryset(request).defer("document")


@admin.register(Entry)
class Entries(ReadOnly):
    list_display = ("number", "at", "what", "study", "hash")
    list_filter = ("what",)
    search_fields = ("study__title", "hash")
    list_select_related = ("study",)


class Moderated(ReadOnly):
    """Nobody's words are changed; what must not stand there can be taken out."""

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return admin.ModelAdmin.has_delete_permission(self, request, obj)


@admin.register(Question)
class Questions(Moderated):
    list_display = ("text", "kind", "state", "study", "asked_by", "asked_at")
    list_filter = ("kind", "state")
    search_fields = ("text", "study__title")
    list_select_related = ("study", "asked_by")


@admin.register(Plan)
class Plans(Moderated):
    """One that a study follows can't be taken out."""

    list_display = ("title", "id", "status", "contributor", "lodged_at")
    list_filter = ("status", "invented")
    search_fields = ("title", "question", "id")
    list_select_related = ("contributor",)


@admin.register(Answer)
class Answers(Moderated):
    list_display = ("text", "question", "by", "at")
    search_fields = ("text",)
    list_select_related = ("question", "by")
