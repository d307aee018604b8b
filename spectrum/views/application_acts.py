"""What is done with an application: links put in and taken out, filing, the grant, refusal and withdrawal."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.applying import State
from licences.models import Application
from sites.errors import RegisterError
from sites.lazily import Words
from sites.models import Person
from sites.reading import day_here
from sites.services.record import Author, as_register_error
from sites.views.access import Page
from sites.views.addresses import page_of
from sites.views.editing import AT_ONCE, plain
from spectrum.forms.applications import (
    EndForm,
    FileForm,
    GrantedChannelForm,
    GrantForm,
    as_initial,
    terms_of,
)
from spectrum.models import FiledStation, Link
from spectrum.services import applications

from .applications import application_page, sheet_of

Stations = list[tuple[FiledStation, GrantedChannelForm]]


class ApplicationAct(Page):
    """Something done with an application that leads back to its page, with a sentence on what came of it."""

    needs = "licences.change_application"
    act = _("changing an application")

    def post(self, request: HttpRequest, pk: int, **kwargs: Any) -> HttpResponse:
        application = get_object_or_404(Application, pk=pk)
        try:
            said = self.carried_out(request, application, **kwargs)
        except ValidationError as error:
            messages.error(request, as_register_error(error).message)
        except RegisterError as error:
            messages.error(request, error.message)
        else:
            messages.success(request, said)
        return redirect(page_of(application))

    def carried_out(self, request: HttpRequest, application: Application, **kwargs: Any) -> str:
        raise TypeError(f"{type(self).__name__} does not say what it does")


class ApplicationLinkAdd(ApplicationAct):
    def carried_out(self, request: HttpRequest, application: Application, **kwargs: Any) -> str:
        codes = plain(request.POST.get("codes", "")).replace(",", " ").split()
        if not codes:
            raise RegisterError(gettext("Give the code of a link, for example U41-204."), field="links")
        links = applications.links_named(codes)
        applications.add_links(application, links, by=Author.of(request.user), today=timezone.localdate())
        return gettext("Added: {links}.").format(links=", ".join(link.code for link in links))


class ApplicationLinkTakeOut(ApplicationAct):
    def carried_out(self, request: HttpRequest, application: Application, **kwargs: Any) -> str:
        link = get_object_or_404(Link, pk=kwargs["link_pk"])
        applications.take_out(application, link, by=Author.of(request.user))
        return gettext("Taken out: {link}. The link itself stays as it is.").format(link=link.code)


class ApplicationFile(Page):
    needs = "licences.file_application"
    act = _("filing an application")

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        application = get_object_or_404(Application, pk=pk)
        form = FileForm(request.POST)
        status = 422
        if form.is_valid():
            values = form.cleaned_data
            try:
                applications.file(
                    application,
                    by=Author.of(request.user),
                    filed_on=values["filed_on"],
                    today=day_here(),
                    reference=values["reference"],
                    despite=values["despite"],
                    expected_version=form.expected_version,
                )
            except (RegisterError, ValidationError) as error:
                status = getattr(error, "status", 422)
                form.take_error(error)
            else:
                messages.success(
                    request,
                    gettext(
                        "Application {application} is filed; its pairs are held until it is decided."
                    ).format(application=application),
                )
                return redirect(page_of(application))
        return application_page(request, sheet_of(pk), file_form=form, status=_shown_status(status))


class _End(Page):
    needs = "licences.file_application"
    end: ClassVar[Any]
    said: ClassVar[Words]  # the sentence, with a place for the application

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        application = get_object_or_404(Application, pk=pk)
        form = EndForm(request.POST)
        status = 422
        if form.is_valid():
            try:
                type(self).end(
                    application,
                    by=Author.of(request.user),
                    on=form.cleaned_data["decided_on"],
                    today=day_here(),
                    remarks=form.cleaned_data["remarks"],
                    expected_version=form.expected_version,
                )
            except (RegisterError, ValidationError) as error:
                status = getattr(error, "status", 422)
                form.take_error(error)
            else:
                messages.success(
                    request,
                    str(self.said).format(application=application),
                )
                return redirect(page_of(application))
        return application_page(request, sheet_of(pk), end_form=form, status=_shown_status(status))


class ApplicationRefuse(_End):
    act = _("recording a refusal")
    end = staticmethod(applications.refuse)
    said = _("Application {application} is refused; its pairs are free for others.")


class ApplicationWithdraw(_End):
    act = _("withdrawing an application")
    end = staticmethod(applications.withdraw)
    said = _("Application {application} is withdrawn; its pairs are free for others.")


class ApplicationGrant(Page):
    """The grant: prefilled with what was asked; the registrar changes what the authority changed."""

    needs = "licences.file_application"
    act = _("recording a grant")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        application = get_object_or_404(applications.all_applications(), pk=pk)
        if application.state != State.FILED:
            messages.error(
                request,
                gettext("Application {application} is {state}; a grant follows a filing.").format(
                    application=application, state=State(application.state).words
                ),
            )
            return redirect(page_of(application))
        today = day_here()
        form = GrantForm(
            initial={
                "version": application.version,
                "reference": application.authority_reference,
                "granted_on": today,
                "in_force_from": today,
                "responsible": request.user.pk if isinstance(request.user, Person) else None,
            }
        )
        return self.shown(request, application, form, _stations(application))

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        application = get_object_or_404(applications.all_applications(), pk=pk)
        form, stations = GrantForm(request.POST), _stations(application, request.POST)
        status = 422
        # Every form is read before the answer, so that all that is wrong is said at once.
        if all([form.is_valid(), *(each.is_valid() for _, each in stations)]):
            try:
                applications.grant(
                    application,
                    terms_of(form, stations),
                    by=Author.of(request.user),
                    today=day_here(),
                    expected_version=form.expected_version,
                )
            except (RegisterError, ValidationError) as error:
                status = getattr(error, "status", 422)
                _take(form, stations, error)
            except IntegrityError:
                status = 409
                form.add_error(None, AT_ONCE)
            else:
                messages.success(
                    request,
                    gettext(
                        "Application {application} is granted: its licence and channels are in the register."
                    ).format(application=application),
                )
                return redirect(page_of(application))
        return self.shown(request, application, form, stations, _shown_status(status))

    def shown(
        self,
        request: HttpRequest,
        application: Application,
        form: GrantForm,
        stations: Stations,
        status: int = 200,
    ) -> HttpResponse:
        wrong = any(each.errors for _, each in stations)
        context = {"application": application, "form": form, "stations": stations, "wrong": wrong}
        return render(request, "application_grant.html", context, status=status)


def _stations(application: Application, posted: Any = None) -> Stations:
    rows = application.links.all()
    asked = application.asked
    return [
        (
            kept,
            GrantedChannelForm(
                posted,
                prefix=f"station-{kept.pk}",
                initial=as_initial(applications.as_asked(kept, asked)),
            ),
        )
        for row in rows
        for kept in row.filed.all()
    ]


#: What the register calls a field, and what the form of a station calls it.
_NAMES = {"frequency_hz": "frequency_mhz", "channel_width_hz": "channel_width_khz"}


def _take(form: GrantForm, stations: Stations, error: RegisterError | ValidationError) -> None:
    """Put an error beside the station's field that it names, else where the grant's form has it."""
    named = error.field if isinstance(error, RegisterError) else ""
    for kept, each in stations:
        if named.startswith(f"station-{kept.pk}-"):
            name = named.removeprefix(f"station-{kept.pk}-")
            name = _NAMES.get(name, name)
            each.add_error(name if name in each.fields else None, str(getattr(error, "message", error)))
            return
    form.take_error(error)


def _shown_status(status: int) -> int:
    return status if status == 409 else 422
