"""What the administration pages of every app share: they write through the service that records.

Django's admin saves first and asks later; here a write that the service refuses
(somebody was faster, a rule of the register) is shown on the form with all that
was typed, and nothing of it is stored.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar

from django.apps import apps
from django.contrib import admin, messages
from django.contrib.admin.utils import unquote
from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.forms import BaseModelFormSet, ModelForm
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from sites.errors import RegisterError
from sites.forms.base import RegisterForm
from sites.models import Registered
from sites.services import record
from sites.services.record import Author

Refusal = RegisterError | ValidationError
_REFUSED = "refused_by_the_service"


class RecordedAdmin(admin.ModelAdmin):
    """Administration of a registered object; the form is a RegisterForm, which carries the version that was seen."""

    form: Any = RegisterForm
    exclude: ClassVar[Any] = ("version",)  # the form declares it itself, as a hidden field

    def write(self, obj: Any, by: Author, seen: int | None) -> None:
        """Store a new object, or a changed one of which the person saw version ``seen``."""
        if obj._state.adding:
            record.create(obj, by=by)
        else:
            record.change(obj, by=by, expected_version=seen)

    def remove(self, obj: Any, by: Author) -> None:
        record.remove(obj, by=by)

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        self.write(obj, Author.of(request.user), form.expected_version)

    def save_formset(self, request: HttpRequest, form: Any, formset: Any, change: bool) -> None:
        save_parts(formset, Author.of(request.user))

    def delete_model(self, request: HttpRequest, obj: Any) -> None:
        self.remove(obj, Author.of(request.user))

    def delete_queryset(self, request: HttpRequest, queryset: models.QuerySet[Any]) -> None:
        with transaction.atomic():
            for obj in queryset:
                self.remove(obj, Author.of(request.user))

    def get_deleted_objects(self, objs: Any, request: HttpRequest) -> Any:
        shown, counts, not_permitted, protected = super().get_deleted_objects(objs, request)
        # What the register writes itself (checks, findings, reminders) goes along; nobody removes it alone.
        registered = {m._meta.verbose_name for m in apps.get_models() if issubclass(m, Registered)}
        return shown, counts, not_permitted & registered, protected

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        if self.has_change_permission(request, obj) or (obj is None and self.has_add_permission(request)):
            return super().get_fields(request, obj)
        stored = [field.name for field in self.model._meta.fields if field.editable and not field.primary_key]
        return [*stored, *self.get_readonly_fields(request, obj)]

    def get_form(self, request: HttpRequest, obj: Any = None, change: bool = False, **kwargs: Any) -> Any:
        form = super().get_form(request, obj, change=change, **kwargs)
        refusal: Refusal | None = getattr(request, _REFUSED, None)
        return form if refusal is None else refusing(form, refusal)

    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return super().changeform_view(request, *args, **kwargs)
        except (RegisterError, ValidationError) as refusal:
            # All is rolled back. Once more, with a form that says why and keeps what was typed.
            setattr(request, _REFUSED, refusal)
            return super().changeform_view(request, *args, **kwargs)

    def delete_view(self, request: HttpRequest, object_id: str, extra_context: Any = None) -> HttpResponse:
        try:
            return super().delete_view(request, object_id, extra_context)
        except (RegisterError, ValidationError) as refusal:
            return self._back(request, refusal, "change", unquote(object_id))

    def changelist_view(self, request: HttpRequest, extra_context: Any = None) -> HttpResponse:
        try:
            return super().changelist_view(request, extra_context)
        except (RegisterError, ValidationError) as refusal:
            return self._back(request, refusal, "changelist")

    def _back(self, request: HttpRequest, refusal: Refusal, page: str, *args: str) -> HttpResponse:
        messages.error(request, sentence(refusal))
        opts = self.model._meta
        name = f"admin:{opts.app_label}_{opts.model_name}_{page}"
        return HttpResponseRedirect(reverse(name, args=args, current_app=self.admin_site.name))


class RecordedInline(admin.StackedInline):
    """Parts of an object, edited with it and each recorded by itself."""

    exclude = ("version",)
    extra = 0


class ReadOnlyAdmin(admin.ModelAdmin):
    """What the register itself writes: to be read, by those who may."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


def refusing(form: type[ModelForm], refusal: Refusal) -> type[ModelForm]:
    """The same form, which finds what the service refused among its errors."""

    class Refusing(form):  # type: ignore[misc, valid-type]
        def clean(self) -> Any:
            data = super().clean()
            if hasattr(self, "take_error"):
                self.take_error(refusal)
            else:
                self.add_error(None, sentence(refusal))
            return data

    Refusing.__name__ = form.__name__
    return Refusing


def save_parts(formset: BaseModelFormSet, by: Author) -> None:
    """Store what was entered, changed and removed in a formset. RegisterError names the part that was refused."""
    formset.save(commit=False)
    seen = {form.instance.pk: form.cleaned_data.get("version") for form in formset.initial_forms}
    for obj in formset.deleted_objects:
        record.remove(obj, by=by)
    for obj, _ in formset.changed_objects:
        with _naming(obj):
            record.change(obj, by=by, expected_version=seen[obj.pk])
    for obj in formset.new_objects:
        with _naming(obj):
            record.create(obj, by=by)
    formset.save_m2m()


class _naming:  # noqa: N801 - used like a function
    """Say which part of an object a refused value belongs to."""

    def __init__(self, obj: models.Model) -> None:
        self.label = str(obj)

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: Any, error: BaseException | None, trace: Any) -> None:
        if isinstance(error, ValidationError):
            raise RegisterError(f"{self.label}: {sentence(error)}") from error


def sentence(refusal: Refusal) -> str:
    """What was refused, in words; for a validation error all of it, each with its field."""
    if isinstance(refusal, RegisterError):
        return refusal.message
    if not hasattr(refusal, "error_dict"):
        return " ".join(refusal.messages)
    return " ".join(_said(refusal.message_dict.items()))


def _said(problems: Iterable[tuple[str, list[str]]]) -> Iterable[str]:
    for field, found in problems:
        text = " ".join(found)
        yield text if field == "__all__" else f"{field.replace('_', ' ')}: {text}"
