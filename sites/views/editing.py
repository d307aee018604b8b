"""Entry, change and removal by forms: validate, call the service, say what came of it."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib import messages
from django.contrib.admin.utils import NestedObjects
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError, StaleWriteError
from sites.forms.base import RegisterForm
from sites.lazily import Words
from sites.models import Registered
from sites.services import record

from .access import Page
from .addresses import PAGES, page_of

SHOWN_DEPENDENTS = 20
AT_ONCE = _("Somebody else saved the same at the same moment. Look it up; change that one, or save again.")


class EditPage(Page):
    """A form for a new object; ChangePage is the one for an object that is there.

    ``noun`` is the object's name in a sentence.
    """

    model: ClassVar[type[Registered]]
    form_class: ClassVar[type[RegisterForm]]
    noun: ClassVar[Words]
    caution: ClassVar[Words] = ""
    template_name: ClassVar[str] = "form.html"

    def subject(self, **kwargs: Any) -> Registered:
        """The object that the form fills: a new one here; ChangePage takes the one in the address."""
        return self.model()

    def initial(self, request: HttpRequest) -> dict[str, Any]:
        return {}

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        form = self.form_class(instance=self.subject(**kwargs), initial=self.initial(request))
        return self.shown(request, form)

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        obj = self.subject(**kwargs)
        form = self.form_class(request.POST, request.FILES, instance=obj)
        status = 422
        if form.is_valid():
            try:
                saved = self.save(form, request)
            except ValidationError as error:
                form.take_error(error)
            except StaleWriteError as error:
                status = error.status
                form.take_stale(error.message, self.model._default_manager.filter(pk=obj.pk).first())
            except RegisterError as error:
                status = error.status
                form.take_error(error)
            except IntegrityError:
                status = 409
                form.add_error(None, AT_ONCE)
            else:
                messages.success(request, self.said(saved))
                return redirect(self.after(saved))
        return self.shown(request, form, status)

    def save(self, form: RegisterForm, request: HttpRequest) -> models.Model:
        author = record.Author.of(request.user)
        if form.instance.pk is None:
            return record.create(form.instance, by=author)
        return record.change(form.instance, by=author, expected_version=form.expected_version)

    def after(self, saved: models.Model) -> str:
        """Where to go when it is saved: the object's page."""
        return page_of(saved)

    def said(self, saved: models.Model) -> str:
        return gettext("{saved} is in the register as you entered it.").format(saved=saved)

    def shown(self, request: HttpRequest, form: RegisterForm, status: int = 200) -> HttpResponse:
        adding = form.instance.pk is None
        context = {
            "view": self,
            "form": form,
            "heading": entering(self.noun)
            if adding
            else gettext("Change {noun} {name}").format(noun=self.noun, name=self.name_of(form)),
            "back": self.back(form),
            **self.more_context(form),
        }
        return render(request, self.template_name, context, status=status)

    def name_of(self, form: RegisterForm) -> str:
        """The object's name as the register has it, not as it is being typed."""
        return str(self.model._default_manager.filter(pk=form.instance.pk).first() or "")

    def back(self, form: RegisterForm) -> str:
        """Where the person came from: the object's page, or the list."""
        return page_of(form.instance) or reverse(f"{PAGES[self.model._meta.label_lower]}-list")

    def more_context(self, form: RegisterForm) -> dict[str, Any]:
        return {}


class ChangePage(EditPage):
    """A form for the object whose id is in the address."""

    def subject(self, **kwargs: Any) -> Registered:
        return get_object_or_404(self.model, pk=kwargs["pk"])


class RemovePage(Page):
    """Asks before removing, and names what goes with the object and what keeps it."""

    model: ClassVar[type[Registered]]
    noun: ClassVar[Words]

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        return self.shown(request, get_object_or_404(self.model, pk=pk))

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        obj = get_object_or_404(self.model, pk=pk)
        label, after = str(obj), self.after(obj)
        try:
            record.remove(
                obj, by=record.Author.of(request.user), reason=plain(request.POST.get("reason", ""))
            )
        except RegisterError as error:
            return self.shown(request, obj, error.message, status=409)
        messages.success(
            request, gettext("{label} was removed. The change record keeps what it was.").format(label=label)
        )
        return redirect(after)

    def after(self, obj: Registered) -> str:
        """Where to go when the object is gone: its list, or the page of what it belonged to."""
        label = obj._meta.label_lower
        return reverse(f"{PAGES[label]}-list") if label in PAGES else page_of(obj)

    def shown(
        self, request: HttpRequest, obj: Registered, problem: str = "", status: int = 200
    ) -> HttpResponse:
        collector = NestedObjects(using=obj._state.db or "default")
        collector.collect([obj])
        collected = [one for found in collector.model_objs.values() for one in found]
        goes = [str(one) for one in collected if isinstance(one, Registered) and one != obj]
        keeps = [(str(one), page_of(one)) for one in collector.protected]
        context = {
            "view": self,
            "object": obj,
            "noun": self.noun,
            "problem": problem,
            "goes": sorted(goes)[:SHOWN_DEPENDENTS],
            "goes_more": max(0, len(goes) - SHOWN_DEPENDENTS),
            "keeps": sorted(keeps)[:SHOWN_DEPENDENTS],
            "keeps_more": max(0, len(keeps) - SHOWN_DEPENDENTS),
            "back": page_of(obj),
        }
        return render(request, "remove.html", context, status=status)


def plain(typed: object, longest: int = 2000) -> str:
    """A text field that no form checks: cut to a length, without the character that databases refuse."""
    return str(typed).replace("\x00", "").strip()[:longest]


def entering(noun: Words) -> str:
    """The heading of a form for something new."""
    vowel = str(noun)[:1] in "aeiou"
    return (gettext("Enter an {noun}") if vowel else gettext("Enter a {noun}")).format(noun=noun)
