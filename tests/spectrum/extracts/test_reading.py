"""A file is read as it is, or refused with a sentence that says where and how to mend it."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from typing import Any

import openpyxl
import pytest

from spectrum.extracts import reading
from spectrum.extracts.entries import Entry, entries_of
from spectrum.extracts.problems import ExtractError
from spectrum.extracts.reading import read_table, workbook
from tests.spectrum.extracts.made import HEADINGS, csv_bytes, mapping, row


def entries(content: bytes, **changes: Any) -> list[Entry]:
    how = mapping(**changes)
    return entries_of(read_table(content, "extract.csv", how).rows, how).rows


def refusal(content: bytes, **changes: Any) -> ExtractError:
    with pytest.raises(ExtractError) as caught:
        entries(content, **changes)
    return caught.value


def workbook_bytes(*rows: list[Any], sheets: tuple[str, ...] = ("Extract",)) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title in sheets:
        sheet = book.create_sheet(title)
        for cells in rows:
            sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def cells_of(values: dict[str, Any]) -> list[Any]:
    return [values[name] for name in HEADINGS]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_delimiter_and_byte_order_mark_are_found_out(delimiter: str, encoding: str) -> None:
    [entry] = entries(csv_bytes(row(Holder="Gleis & Söhne"), delimiter=delimiter, encoding=encoding))
    assert (entry.holder, entry.frequency_hz, entry.row) == ("Gleis & Söhne", 6_010_500_000, 2)


def test_decimal_commas_are_read_where_the_mapping_says_so() -> None:
    content = csv_bytes(
        row(MHz="6010,5", From_lat="47,25", From_lon="14,5", From_ground="512,5", Km="18,8"), delimiter=";"
    )
    [entry] = entries(content, reading={"decimal_sign": ","})
    assert (entry.frequency_hz, entry.tx.latitude_deg, entry.tx.ground_height_m) == (
        6_010_500_000,
        47.25,
        512.5,
    )
    error = refusal(content)
    assert "column MHz" in str(error)
    assert "say so in the mapping" in str(error)


def test_windows_1252_is_refused_by_line_and_read_when_named() -> None:
    content = csv_bytes(row(), row(Holder="Söhne", MHz="6040.5"), encoding="windows-1252")
    error = refusal(content)
    assert "0xF6 in line 3" in str(error)
    assert "windows-1252" in str(error)
    assert entries(content, reading={"encoding": "windows-1252"})[1].holder == "Söhne"


def test_a_quoted_line_break_keeps_the_spreadsheets_row_numbers() -> None:
    found = entries(csv_bytes(row(Holder="Valley\nRail"), row(MHz="6040.5")))
    assert [(e.row, e.holder) for e in found] == [(2, "Valley Rail"), (3, "Valley Rail")]


def test_blank_rows_are_passed_over() -> None:
    content = csv_bytes(row(), row(MHz="6040.5")).replace(
        b"6010.5,18.823\r\n", b"6010.5,18.823\r\n\r\n,,,\r\n"
    )
    assert [e.row for e in entries(content)] == [2, 5]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "an empty file"),
        (b"\n \n", "an empty file"),
        (csv_bytes(), "headings and no row below"),
        (b"\xd0\xcf\x11\xe0rest", "old .xls kind"),
        (b"\x1f\x8brest", "gzip"),
        (b"%PDF-1.7", "PDF"),
        (b"PK\x03\x04 and nonsense", "a zip archive, not a table"),
        (b"Number\x00Holder", "bytes that are no text"),
        (csv_bytes(row()) + b'"open', "near line 3"),
        (csv_bytes(row()) + b"only,three,cells\n", "Row 3: found 3 cells; expected 16"),
        (csv_bytes(row()) + b"x," * 20 + b"x\n", "Row 3: found 21 cells; expected 16"),
        (csv_bytes(row(MHz="=A1*2")), "Row 2, column MHz: found the formula"),
        (csv_bytes(row(MHz="#N/A")), "spreadsheet error #N/A"),
        (csv_bytes(row(Holder="x" * 3000)), "found 3000 characters"),
    ],
)
def test_what_is_no_table_is_refused_with_its_reason(content: bytes, said: str) -> None:
    error = refusal(content)
    assert said in str(error)
    assert str(error).endswith("Nothing was written.")
    assert error.status == 400


def test_a_zip_named_csv_is_refused_and_a_workbook_named_csv_is_read() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("extract.csv", csv_bytes(row()))
    assert "Unpack the archive" in str(refusal(out.getvalue()))
    assert len(entries(workbook_bytes(HEADINGS, cells_of(row())))) == 1


def test_missing_and_doubled_columns_are_all_named_with_the_nearest_heading() -> None:
    names = [{"Holder": "Holdr", "Km": "Number"}.get(name, name) for name in HEADINGS]
    error = refusal(csv_bytes(row(), headings=names))
    assert [problem.column for problem in error.problems] == ["Number", "Holder", "Km"]
    assert "2 columns of that heading" in str(error)
    assert "Nearest heading: “Holdr”" in str(error)


def test_a_workbook_gives_dates_numbers_and_texts() -> None:
    values = {
        **row(), "Number": 100.0, "Granted": dt.datetime.fromisoformat("2018-05-01"), "Expires": dt.date(2030, 5, 1),
        "MHz": 6010.5, "From lat": 47.0, "From lon": 14, "From ground": None, "Ended": None, "Km": None,
    }  # fmt: skip
    [entry] = entries(workbook_bytes(HEADINGS, cells_of(values)))
    assert (entry.licence_number, entry.granted_on) == ("100", dt.date(2018, 5, 1))
    assert (entry.expires_on, entry.ended_on) == (dt.date(2030, 5, 1), None)
    assert (entry.frequency_hz, entry.tx.ground_height_m, entry.stated_path_km) == (6_010_500_000, None, None)


def test_formulas_counts_of_days_and_extra_sheets_of_a_workbook_are_refused() -> None:
    formula = workbook_bytes(HEADINGS, cells_of({**row(), "MHz": "=6000+10.5"}))
    assert "Row 2, column MHz: found the formula “=6000+10.5”" in str(refusal(formula))
    days = workbook_bytes(HEADINGS, cells_of({**row(), "Granted": 43221}))
    assert "count of days: format the column as a date" in str(refusal(days))
    two = workbook_bytes(HEADINGS, cells_of(row()), sheets=("Cover", "Extract"))
    assert "2 sheets (Cover, Extract)" in str(refusal(two))
    assert len(entries(two, reading={"sheet": "Extract"})) == 1
    assert "a sheet named “Links”" in str(refusal(two, reading={"sheet": "Links"}))


def test_limits_of_size_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    content = csv_bytes(row(), row(MHz="6040.5"))
    monkeypatch.setattr(reading, "MAX_ROWS", 1)
    assert "more than 1 row;" in str(refusal(content))
    monkeypatch.setattr(reading, "MAX_BYTES", 100)
    assert "a file of 0 MB" in str(refusal(content))
    monkeypatch.undo()
    monkeypatch.setattr(workbook, "MAX_UNPACKED_BYTES", 100)
    assert "a workbook that unpacks to" in str(refusal(workbook_bytes(HEADINGS, cells_of(row()))))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"Granted": "01/05/2018"}, "Row 2, column Granted: found “01/05/2018”; expected a date written like 2019-11-28"),
        ({"Granted": "43221"}, "count of days"),
        ({"Granted": "0018-05-01"}, "a date from 1900 to 2200"),
        ({"Granted": ""}, "Row 2, column Granted: found an empty cell"),
        ({"Expires": "2010-05-01"}, "a day not before the first day in force (2018-05-01)"),
        ({"MHz": "6 010.5"}, "Row 2, column MHz: found “6 010.5”"),
        ({"MHz": "6010.5 MHz"}, "units belong into the heading"),
        ({"MHz": "6010500000000"}, "Check the mapping's frequency unit"),
        ({"MHz": "7500"}, "a frequency in a band of the mapping (5925–6425 MHz)"),
        ({"MHz": "nan"}, "found “nan”"),
        ({"From_lat": "91"}, "Row 2, column From lat: found “91"),
        ({"From_lat": "47.5x"}, "column From lat"),
        ({"To_lon": ""}, "Row 2, column To lon: found an empty cell"),
        ({"From_ground": "9999"}, "a ground height in m from −430 to 8850"),
        ({"State": "asleep"}, "Row 2, column State: found “asleep”; expected one of gone, live"),
        ({"Number": ""}, "Row 2, column Number: found an empty cell"),
        ({"Number": "N" * 61}, "at most 60 characters"),
        ({"Km": "-1"}, "a length in km from 0"),
    ],
)  # fmt: skip
def test_a_bad_cell_is_named_by_row_and_column(changes: dict[str, str], said: str) -> None:
    assert said in str(refusal(csv_bytes(row(**changes))))


def test_swapped_axes_are_refused_where_the_mapping_says_what_area_is_meant() -> None:
    content = csv_bytes(row(From_lat="14.00000", From_lon="47.00000"))
    assert len(entries(content)) == 1
    error = refusal(content, reading={"expected_area": [13, 46, 15, 48]})
    assert "the axes look swapped" in str(error)


def test_every_problem_of_every_row_is_listed_and_counted() -> None:
    rows = [row(MHz="x", Granted="y", Number=f"F-{n}") for n in range(30)]
    error = refusal(csv_bytes(*rows))
    assert error.count == len(error.problems) == 60
    assert "And 40 more" in str(error)
    assert {(p.row, p.column) for p in error.problems} == {
        (n, c) for n in range(2, 32) for c in ("MHz", "Granted")
    }


def test_rows_of_one_licence_that_disagree_about_it_are_refused() -> None:
    error = refusal(csv_bytes(row(), row(MHz="6040.5", Expires="2031-01-01")))
    assert "Row 3, column Expires: found “2031-01-01”; expected “2030-05-01” as in row 2" in str(error)


def test_degrees_minutes_seconds_and_a_grid_are_read() -> None:
    [entry] = entries(csv_bytes(row(From_lat="47°30'00\"N", From_lon="14°15'00\"E")))
    assert (entry.tx.latitude_deg, entry.tx.longitude_deg) == (47.5, 14.25)
    assert entry.tx.key == "N47.50000 E014.25000"
