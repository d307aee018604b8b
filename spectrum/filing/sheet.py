"""What the data sheet of an application says, as text: the page, the PDF and the tables print the same.

While it is being drawn up the figures are those of the register on that day. Once it is filed they are the figures
that were filed; where the register or the grant has moved away from them, the sheet says so beside them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.utils.translation import gettext

from licences.applying import GENERAL, Filled, SheetField, State, completeness
from licences.models import Application, LicensedChannel
from sites.templatetags.figures import mhz
from spectrum.models import ApplicationLink, FiledStation, Link, Station

from .conflicts import LinkReport, link_report, no_report
from .figures import StationFigures, figures_of_link
from .granted import granted_otherwise, moved_since
from .notation import general_values, station_values


@dataclass(frozen=True)
class StationPart:
    """One transmitting station on the sheet."""

    heading: str
    label: str
    figures: StationFigures
    lines: list[SheetField]
    channel: LicensedChannel | None = None
    otherwise: list[str] = field(default_factory=list)
    moved: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class LinkPart:
    """One link on the sheet, with the report of its conflicts."""

    link: Link
    heading: str
    stations: list[StationPart]
    report: LinkReport

    @property
    def beside(self) -> list[tuple[SheetField, list[SheetField]]]:
        """Field by field, what is asked of each station, for a table with a column for each."""
        return [(lines[0], list(lines)) for lines in zip(*(x.lines for x in self.stations), strict=True)]


@dataclass(frozen=True)
class DataSheet:
    """The sheet of one application."""

    application: Application
    made_on: dt.date
    general: list[SheetField]
    links: list[LinkPart]

    @property
    def state(self) -> State:
        return State(self.application.state)

    @property
    def stations(self) -> list[StationPart]:
        return [station for link in self.links for station in link.stations]

    @property
    def missing(self) -> list[SheetField]:
        """Every asked field without a value, those of the application first; what stations share is named once."""
        lines = [*self.general, *(line for station in self.stations for line in station.lines)]
        return list({(line.missing, line.where): line for line in lines if line.missing}.values())

    @property
    def objections(self) -> list[str]:
        """Why one would not file it yet although every field is filled."""
        return [link.report.objection for link in self.links if link.report.objection]


def data_sheet(application: Application, today: dt.date) -> DataSheet:
    """The sheet of an application; ``application.links`` should come with their links and what was filed."""
    rows = list(application.links.all())
    drafting = application.state == State.DRAFTING
    asked = application.asked
    if drafting:
        general = general_values(application)
    else:
        kept = (application.filed_as or {}).get("general", {})
        general = {key: Filled(value) for key, value in kept.items()}
    return DataSheet(
        application=application,
        made_on=today,
        general=completeness([key for key in asked if key in GENERAL], general),
        links=[
            _link_part(row, [key for key in asked if key not in GENERAL], today, drafting) for row in rows
        ],
    )


def _link_part(row: ApplicationLink, asked: list[str], today: dt.date, drafting: bool) -> LinkPart:
    link = row.link
    now = {station.pk: figures for station, figures in figures_of_link(link, today)}
    if drafting:
        wanted = to_be_filed(link, today)
        stations = [_station_part(link, station.pk, figures, asked) for station, figures in wanted]
        report = link_report(link)
    else:
        stations = [_filed_part(link, kept, asked, now.get(kept.station_id or 0)) for kept in row.filed.all()]
        report = LinkReport.from_json(row.report) if row.report else no_report()
    heading = gettext("Link {link}").format(link=f"{link.code}, {link.name}" if link.name else link.code)
    return LinkPart(link, heading, stations, report)


def to_be_filed(link: Link, today: dt.date) -> list[tuple[Station, StationFigures]]:
    """The stations of a link that transmit and have no licensed channel yet."""
    return [
        (station, figures)
        for station, figures in figures_of_link(link, today)
        if station.licensed_channel_id is None
    ]


def _station_part(link: Link, station_id: int, figures: StationFigures, asked: Iterable[str]) -> StationPart:
    lines = completeness(asked, station_values(figures, link.pk, link.code))
    return StationPart(_heading(link, figures), figures.label, figures, lines)


def _heading(link: Link, figures: StationFigures) -> str:
    return gettext("{station}: {site}, sends {frequency_mhz} MHz").format(
        station=f"{link.code}/{figures.label}",
        site=f"{figures.site_code} {figures.site_name}",
        frequency_mhz=mhz(figures.tx_frequency_hz),
    )


def _filed_part(link: Link, kept: FiledStation, asked: list[str], now: StationFigures | None) -> StationPart:
    figures = StationFigures.from_json(kept.figures)
    filed = station_values(figures, link.pk, link.code)
    channel = kept.licensed_channel
    if now is None:
        moved = [gettext("station {station} no longer transmits in the register").format(station=kept.label)]
    else:
        moved = moved_since(filed, station_values(now, link.pk, link.code))
    return StationPart(
        heading=_heading(link, figures),
        label=kept.label,
        figures=figures,
        lines=completeness(asked, filed),
        channel=channel,
        otherwise=granted_otherwise(figures, channel) if channel is not None else [],
        moved=moved,
    )
