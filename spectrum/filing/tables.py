"""The data sheet as tables: one row a station, one column a field; texts that a spreadsheet would compute are defused."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence

from licences.applying import FIELDS
from sites.tables.delimited import csv_lines
from sites.tables.workbook import write_workbook

from .sheet import DataSheet

_Row = Sequence[str]


def station_table(sheet: DataSheet) -> tuple[list[str], list[_Row]]:
    """Headings and rows of the stations: what is asked of each, as the sheet prints it; empty where it is missing."""
    keys = [line.key for line in sheet.stations[0].lines] if sheet.stations else []
    names = [
        "application",
        "link",
        "station",
        *(f"{FIELDS[key].title} ({FIELDS[key].notation})" for key in keys),
    ]
    number = sheet.application.number
    rows: list[_Row] = [
        [number, part.link.code, station.label, *(line.value for line in station.lines)]
        for part in sheet.links
        for station in part.stations
    ]
    return names, rows


def sheet_csv(sheet: DataSheet) -> str:
    """The table of stations as CSV (RFC 4180)."""
    names, rows = station_table(sheet)
    return "".join(csv_lines(names, rows))


def sheet_xlsx(sheet: DataSheet) -> bytes:
    """The application, its stations and its conflict report as the sheets of one workbook."""
    names, rows = station_table(sheet)
    target = io.BytesIO()
    write_workbook(
        target,
        [
            ("application", ["field", "value"], _general(sheet)),
            ("stations", names, rows),
            ("conflicts", ["link", "weight", "finding", "margin", "standing"], _conflicts(sheet)),
        ],
    )
    return target.getvalue()


def _general(sheet: DataSheet) -> Iterable[_Row]:
    application = sheet.application
    yield ["our number", application.number]
    yield ["authority", str(application.authority)]
    yield ["state", sheet.state.words]
    yield ["sheet made on", sheet.made_on.isoformat()]
    for line in sheet.general:
        yield [f"{line.title} ({line.notation})", line.value]


def _conflicts(sheet: DataSheet) -> Iterable[_Row]:
    for part in sheet.links:
        yield [part.link.code, "", f"{part.report.sentence} {part.report.checked}", "", ""]
        for row in part.report.rows:
            yield [part.link.code, row.weight, row.headline, row.margin, row.standing]
        for sentence in part.report.not_judged:
            yield [part.link.code, "not judged", sentence, "", ""]
