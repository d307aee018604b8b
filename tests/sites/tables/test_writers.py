"""Files of tables, read back by others' readers: the standard library, openpyxl, calamine, GDAL, shapely."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pyogrio
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook
from python_calamine import CalamineWorkbook

from sites.errors import RegisterError
from sites.tables import defused, delimited, geojson, kml, lines, place, polygon, restored, workbook

MOMENT = dt.datetime(2026, 11, 25, 7, 30, tzinfo=dt.UTC)
NAMES = ["code", "frequency_mhz", "granted_on", "changed_at", "own", "notes"]
ROWS: list[list[Any]] = [
    ["S-1", Decimal("457.0125"), dt.date(2026, 11, 25), MOMENT, True, None],
    ["=1+1", -3.5, dt.date(1899, 1, 1), None, False, 'says "a, b"\r\nand more'],
]  # fmt: skip


@given(st.text())
def test_every_text_comes_back_from_its_defused_form(text: str) -> None:
    assert restored(defused(text)) == text
    assert not defused(text).startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


def test_csv_is_what_rfc_4180_says() -> None:
    text = "".join(delimited.csv_lines(NAMES, ROWS))

    assert text.count("\r\n") == 4  # three records, and the line break inside a cell
    assert text.splitlines()[1] == "S-1,457.0125,2026-11-25,2026-11-25T07:30:00Z,yes,"
    read = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert read[0] == NAMES
    assert read[2] == ["'=1+1", "-3.5", "1899-01-01", "", "no", 'says "a, b"\r\nand more']


def book_of(rows: list[list[Any]], names: list[str] = NAMES) -> bytes:
    target = io.BytesIO()
    workbook.write_workbook(target, [("Things", names, rows)])
    return target.getvalue()


def test_another_library_opens_the_workbook_that_openpyxl_wrote() -> None:
    book = CalamineWorkbook.from_filelike(io.BytesIO(book_of(ROWS)))

    assert book.sheet_names == ["Things"]
    head, first, second = book.get_sheet_by_name("Things").to_python()
    assert head == NAMES
    assert first == ["S-1", 457.0125, dt.date(2026, 11, 25), MOMENT.replace(tzinfo=None), "yes", ""]
    assert second[:4] == ["'=1+1", -3.5, "1899-01-01", ""]


def test_no_cell_of_a_workbook_is_a_formula() -> None:
    sheet = load_workbook(io.BytesIO(book_of([["=1+1"], ["@SUM(A1)"], ["+1"], ["-1"]], ["text"])))["Things"]

    assert {cell.data_type for (cell,) in sheet.iter_rows()} == {"s"}


def test_a_text_too_long_for_a_cell_is_refused_not_cut() -> None:
    with pytest.raises(RegisterError, match="32768 characters in notes"):
        book_of([["x" * 32_768]], ["notes"])


SQUARE = {"type": "Polygon", "coordinates": [[[14, 47], [15, 47], [15, 48], [14, 48], [14, 47]]]}
PLACES = [
    place(14.5, 47.25),
    lines([((14.0, 47.0), (15.0, 47.5))]),
    lines([((14.0, 47.0), (15.0, 47.5)), ((14.0, 47.0), (13.0, 46.5))]),
    polygon(SQUARE),
    None,
]


def test_geojson_is_read_by_shapely_and_gdal(tmp_path: Path) -> None:
    features = [geojson.feature(n, where, {"name": f"<{n}> & ä"}) for n, where in enumerate(PLACES)]
    text = "".join(geojson.collection_parts(features))
    read = json.loads(text)

    assert "crs" not in read  # RFC 7946 § 4: always WGS 84
    assert [f["geometry"] for f in read["features"]][-1] is None  # § 3.2: unlocated
    geometries = [shapely.from_geojson(json.dumps(f["geometry"])) for f in read["features"][:-1]]
    assert all(shapely.is_valid(each) for each in geometries)
    (tmp_path / "a.geojson").write_text(text, encoding="utf-8")
    _, _, wkb, columns = pyogrio.raw.read(tmp_path / "a.geojson")
    assert shapely.from_wkb(wkb[0]) == shapely.Point(14.5, 47.25)
    assert next(iter(columns[-1])) == "<0> & ä"


def test_kml_is_read_by_gdal(tmp_path: Path) -> None:
    rows = [(f"<{n}> & ä\x01", where, {"margin_db": -3.5, "notes": "=x"}) for n, where in enumerate(PLACES)]
    (tmp_path / "a.kml").write_text("".join(kml.document_parts("Links & more", rows)), encoding="utf-8")

    meta, _, wkb, columns = pyogrio.raw.read(tmp_path / "a.kml")
    geometries = shapely.from_wkb(wkb)
    found = dict(zip(meta["fields"], columns, strict=True))
    assert [each.geom_type for each in geometries] == ["Point", "LineString", "MultiLineString", "Polygon"]
    assert geometries[3].equals(shapely.from_geojson(json.dumps(SQUARE)))
    assert next(iter(found["Name"])) == "<0> & ä\ufffd"


def test_a_line_across_the_antimeridian_is_cut_as_rfc_7946_wants_it() -> None:
    cut = lines([((179.5, -10.0), (-179.5, -12.0))])

    assert cut is not None
    assert cut.as_json() == {
        "type": "MultiLineString",
        "coordinates": [[[179.5, -10.0], [180.0, -11.0]], [[-180.0, -11.0], [-179.5, -12.0]]],
    }
    assert lines([((180.0, 0.0), (-180.0, 0.0))]) is not None
