"""Filing an application: what was asked is kept as it was on that day, and the pairs are held until it is decided."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext, ngettext

from licences.applying import Act
from licences.models import Application
from sites.errors import RegisterError
from sites.reading import neutral, written_day
from sites.services import record
from sites.services.record import Author
from spectrum.filing.notation import general_values
from spectrum.filing.sheet import DataSheet, data_sheet, to_be_filed
from spectrum.models import FiledStation, Link
from spectrum.services import links

from .state import all_applications, held, step


def file(
    application: Application,
    *,
    by: Author,
    filed_on: dt.date,
    today: dt.date,
    reference: str = "",
    despite: str = "",
    expected_version: int | None = None,
) -> Application:
    """Record that an application was filed on a day; its links are filed then, and hold their pairs without an end.

    Every field that the authority asks must be filled. Where a link was not checked as it stands, or has findings
    that must be fixed and that nobody accepted, ``despite`` says why it was filed nevertheless. Raises DecidedError,
    RegisterError, StaleWriteError; nothing is written then.
    """
    with transaction.atomic():
        stored = held(application, expected_version=expected_version)
        state = step(stored, Act.FILE)
        if filed_on > today:
            raise RegisterError(
                gettext("{filed_on} lies in the future; today is {today}.").format(
                    filed_on=written_day(filed_on), today=written_day(today)
                ),
                field="filed_on",
            )
        shown = all_applications().get(pk=stored.pk)
        with neutral():  # what is filed means the same whoever filed it
            sheet = data_sheet(shown, today)
        if _is_incomplete(sheet, despite):
            _refuse_incomplete(data_sheet(shown, today), despite)  # in the words of who would file it
        stored.state, stored.filed_on = state.value, filed_on
        stored.filed_despite, stored.authority_reference = despite.strip(), reference.strip()
        with neutral():
            _keep_as_filed(stored, shown, sheet, by=by, today=today)
        return record.change(stored, by=by, reason=despite)


def _keep_as_filed(
    stored: Application, shown: Application, sheet: DataSheet, *, by: Author, today: dt.date
) -> None:
    """Keep what goes to the authority: the figures of its stations, the reports on its links, what was asked."""
    reports = {part.link.pk: part.report.as_json() for part in sheet.links}
    for row in shown.links.all():
        for station, figures in to_be_filed(row.link, today):
            filed = FiledStation(
                application_link=row, station=station, label=station.label, figures=figures.as_json()
            )
            record.create(filed, by=by)
        row.report = reports[row.link_id]
        record.change(row, by=by)
        _hold(row.link, by, f"Filed in application {stored}.")
    stored.filed_as = {
        "asked": list(stored.authority.asked_fields),
        "general": {key: filled.value for key, filled in general_values(stored).items()},
    }


def _is_incomplete(sheet: DataSheet, despite: str) -> bool:
    silent = not sheet.links or any(not part.stations for part in sheet.links)
    return silent or bool(sheet.missing) or (bool(sheet.objections) and not despite.strip())


def _refuse_incomplete(sheet: DataSheet, despite: str) -> None:
    if not sheet.links:
        raise RegisterError(
            gettext("It is for no link. Add the links that are to be filed together."), field="links"
        )
    if silent := [part.link.code for part in sheet.links if not part.stations]:
        raise RegisterError(
            gettext(
                "Every transmitting station of {link} has a licensed channel; take it out of the application."
            ).format(link=silent[0]),
            field="links",
        )
    if sheet.missing:
        number = len(sheet.missing)
        raise RegisterError(
            ngettext(
                "{number} field is missing. {first}", "{number} fields are missing. {first}", number
            ).format(number=number, first=sheet.missing[0].missing),
            field="links",
        )
    if sheet.objections and not despite.strip():
        raise RegisterError(
            gettext("{objections} Mend it, or say why it is filed nevertheless.").format(
                objections=" ".join(sheet.objections[:3])
            ),
            field="despite",
        )


def _hold(link: Link, by: Author, reason: str) -> None:
    """A planned link becomes a filed one; its pair is held until the authority decides, not until a day."""
    if link.status not in Link.RESERVING:
        return
    link.reserved_until = None
    links.set_status(link, Link.Status.FILED, by=by, reason=reason)
