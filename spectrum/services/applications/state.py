"""Reads of applications, and holding one while something is done with it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db.models import Prefetch, QuerySet
from django.utils.translation import gettext

from licences.applying import Act, State, StepError, next_state
from licences.models import Application
from sites.errors import RegisterError, StaleWriteError
from sites.services import record
from spectrum import selectors
from spectrum.models import ApplicationLink, FiledStation, Link

OPEN = (State.DRAFTING, State.FILED)


class DecidedError(RegisterError):
    """The application stands otherwise than the act needs."""

    status = 409
    title = "The application stands otherwise"


def all_applications() -> QuerySet[Application]:
    """Every application, latest first, with its authority, holder, links and what was filed and granted."""
    filed = FiledStation.objects.select_related("licensed_channel__licence__authority", "station").order_by(
        "id"
    )
    rows = (
        ApplicationLink.objects.select_related("application")
        .prefetch_related(Prefetch("filed", queryset=filed), Prefetch("link", queryset=selectors.all_links()))
        .order_by("link__code")
    )
    return (
        Application.objects.select_related("authority", "holder", "drawn_up_by")
        .prefetch_related(Prefetch("links", queryset=rows), "licences__authority")
        .order_by("-id")
    )


def open_application_of(link: Link) -> Application | None:
    """The application that a link is in and that is not decided yet."""
    row = (
        ApplicationLink.objects.select_related("application")
        .filter(link=link, application__state__in=OPEN)
        .first()
    )
    return row.application if row else None


def applications_of(link: Link) -> QuerySet[Application]:
    """The applications that a link is or was in, latest first."""
    return Application.objects.filter(links__link=link).order_by("-id")


def links_named(codes: Iterable[str]) -> list[Link]:
    """The links with these codes, each once. Raises RegisterError naming what is no link."""
    wanted = list(dict.fromkeys(code.strip() for code in codes if code.strip()))
    found = {link.code.lower(): link for link in selectors.all_links().filter(code__in=wanted)}
    for code in wanted:
        if code.lower() not in found:
            link = selectors.all_links().filter(code__iexact=code).first()
            if link is None:
                raise RegisterError(
                    gettext(
                        "There is no link with the code “{code}”; look it up in the list of links."
                    ).format(code=code),
                    field="links",
                )
            found[code.lower()] = link
    return list({found[code.lower()].pk: found[code.lower()] for code in wanted}.values())


def held(application: Application, *, expected_version: int | None = None) -> Application:
    """The application as it is stored, held until the transaction ends. Raises StaleWriteError."""
    stored = (
        Application.objects.select_for_update(of=("self",))
        .select_related("authority", "holder")
        .filter(pk=application.pk)
        .first()
    )
    if stored is None:
        raise StaleWriteError(
            gettext("Application {application} is no longer in the register.").format(application=application)
        )
    if expected_version is not None:
        record.lock(stored, expected_version)
    return stored


def step(application: Application, act: Act) -> State:
    """The state that an act leads to. Raises DecidedError, which says what can be done instead."""
    try:
        return next_state(State(application.state), act)
    except StepError as error:
        raise DecidedError(
            gettext("Application {application}: {error}").format(application=application, error=error),
            field="state",
        ) from error


def rows_of(application: Application) -> Sequence[ApplicationLink]:
    """The links of an application with their stations, in the order of their codes."""
    return list(
        ApplicationLink.objects.filter(application=application)
        .prefetch_related(Prefetch("link", queryset=selectors.all_links()))
        .order_by("link__code")
    )
