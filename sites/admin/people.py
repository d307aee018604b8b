"""People: who may sign in, in which roles. They leave by being deactivated, so that the record keeps its names."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.forms import AdminUserCreationForm, UserChangeForm
from django.contrib.auth.models import Group
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy as _

from sites.models import Person
from sites.services import record
from sites.services.record import Author

from .base import RecordedAdmin

# The roles are a table of the code (a migration puts it into the database), not something to be edited.
admin.site.unregister(Group)


class PersonAddForm(AdminUserCreationForm):
    class Meta(AdminUserCreationForm.Meta):
        model = Person


class PersonChangeForm(UserChangeForm):
    class Meta(UserChangeForm.Meta):
        model = Person


_WHO = ("first_name", "last_name", "email", "language", "formats", "power_unit", "time_zone")
_ROLES = ("is_active", "is_staff", "groups")


ABOUT_ROLES = _("Roles are groups; staff may open these pages.")


@admin.register(Person)
class PersonAdmin(RecordedAdmin, UserAdmin):
    """Only what an administrator decides: roles come from groups, never from single permissions."""

    form = PersonChangeForm
    add_form = PersonAddForm
    exclude = ()
    list_display = ("username", "first_name", "last_name", "email", "is_active", "is_staff", "last_login")
    list_filter = ("is_active", "is_staff", "groups")
    fieldsets = (
        (None, {"fields": ("username", "password")}),
        (_("Who"), {"fields": _WHO}),
        (_("May do"), {"fields": _ROLES, "description": ABOUT_ROLES}),
    )
    add_fieldsets = (
        (None, {"fields": ("username", "usable_password", "password1", "password2")}),
        (_("Who"), {"fields": _WHO}),
        (_("May do"), {"fields": _ROLES, "description": ABOUT_ROLES}),
    )
    filter_horizontal = ("groups",)

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        return UserAdmin.get_fields(self, request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """An administrator does not get hold of an account that may do more than their own."""
        above = obj is not None and obj.is_superuser and not request.user.is_superuser
        return not above and super().has_change_permission(request, obj)

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        self.write(obj, Author.of(request.user), None)

    def save_related(self, request: HttpRequest, form: Any, formsets: Any, change: bool) -> None:
        before = _roles(form.instance)
        super().save_related(request, form, formsets, change)
        after = _roles(form.instance)
        if before != after:
            record.note(form.instance, {"roles": [before, after]}, by=Author.of(request.user))

    def user_change_password(self, request: HttpRequest, id: str, form_url: str = "") -> HttpResponse:
        with transaction.atomic():
            before = Person.objects.filter(pk=id).values_list("password", flat=True).first()
            response = super().user_change_password(request, id, form_url)
            person = Person.objects.filter(pk=id).first()
            if person is not None and person.password != before:
                record.note(person, {"password": ["", "set anew"]}, by=Author.of(request.user))
        return response


def _roles(person: Person) -> list[str]:
    return list(person.groups.order_by("name").values_list("name", flat=True)) if person.pk else []
