"""A list as a file: the same rows in the same order under the same filter, as CSV, XLSX, GeoJSON or KML."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from io import BytesIO
from itertools import islice
from typing import TYPE_CHECKING, Any

from django.db.models import QuerySet
from django.http import FileResponse, StreamingHttpResponse
from django.utils import timezone
from django.utils.translation import gettext

from sites.errors import RegisterError
from sites.reading import neutral, neutral_parts
from sites.tables import Geometry, delimited, geojson, kml, workbook

from .columns import Column, also

if TYPE_CHECKING:
    from .listing import ListPage

PARAMETER = "format"
AT_ONCE = 500  # rows that are fetched together
TABLES = {"csv": "CSV", "xlsx": "XLSX"}
MAPS = {"geojson": "GeoJSON", "kml": "KML"}
_Row = tuple[Any, Sequence[Any], Geometry | None]


def formats(page: ListPage) -> dict[str, str]:
    """The formats in which a list can be had: value of the parameter to name."""
    return {**TABLES, **MAPS} if page.located else TABLES


def answer(
    page: ListPage, asked: str, rows: QuerySet[Any], columns: Sequence[Column], sentences: list[str]
) -> StreamingHttpResponse | None:
    """The file; None, and a sentence why, where a file would not be what was asked for.

    Rows are read in portions while the file is sent: whoever changes the register at
    that moment may be seen by the later portions and not by the earlier.
    """
    known = formats(page)
    if asked not in known:
        sentences.append(
            gettext("This list cannot be had as “{asked}”; it can as {known}.").format(
                asked=asked[:40], known=", ".join(known.values())
            )
        )
        return None
    if sentences:
        sentences.append(
            gettext("Nothing was exported, because the file would hold more than what was asked for.")
        )
        return None
    with neutral():  # a file means the same whoever asked for it
        return _file(page, asked, rows, columns, sentences)


def _file(
    page: ListPage, asked: str, rows: QuerySet[Any], columns: Sequence[Column], sentences: list[str]
) -> StreamingHttpResponse | None:
    chosen = [column for column in (*columns, *page.also_exported) if column.exported]
    if page.day:
        chosen.append(also("as_of", lambda _row: page.day))
    names = [column.file_name for column in chosen]
    read = _read(page, rows, chosen, on_map=asked in MAPS)
    title = str(page.heading).partition(":")[0]
    day = f"as-of-{page.day}" if page.day else f"{timezone.now():%Y-%m-%d}"
    name = f"{title.lower().replace(' ', '-')}-{day}.{asked}"
    if asked == "xlsx":
        return _workbook(title, names, (values for _key, values, _place in read), name, sentences)
    parts, media_type = _streamed(asked, title, names, read)
    streamed = StreamingHttpResponse(neutral_parts(portions(parts)), content_type=media_type)
    streamed["Content-Disposition"] = f'attachment; filename="{name}"'
    return streamed


def _read(page: ListPage, rows: QuerySet[Any], columns: Sequence[Column], *, on_map: bool) -> Iterator[_Row]:
    found = (page.placed(rows) if on_map else rows).iterator(chunk_size=AT_ONCE)
    while portion := page.prepared(list(islice(found, AT_ONCE))):
        for row in portion:
            yield (
                row.pk,
                [column.file_value(row) for column in columns],
                page.place_of(row) if on_map else None,
            )


def _streamed(
    asked: str, title: str, names: Sequence[str], rows: Iterator[_Row]
) -> tuple[Iterator[str], str]:
    if asked == "csv":
        return delimited.csv_lines(names, (values for _key, values, _place in rows)), delimited.MEDIA_TYPE
    if asked == "geojson":
        features = (
            geojson.feature(key, place, dict(zip(names, values, strict=True))) for key, values, place in rows
        )
        return geojson.collection_parts(features), geojson.MEDIA_TYPE
    placemarks = (
        (str(values[0]), place, dict(zip(names, values, strict=True))) for _key, values, place in rows
    )
    return kml.document_parts(title, placemarks), kml.MEDIA_TYPE


def portions(parts: Iterable[str], characters: int = 65_536) -> Iterator[bytes]:
    """Texts joined into portions worth sending."""
    held: list[str] = []
    size = 0
    for part in parts:
        held.append(part)
        size += len(part)
        if size >= characters:
            yield "".join(held).encode("utf-8")
            held, size = [], 0
    yield "".join(held).encode("utf-8")


def _workbook(
    title: str, names: Sequence[str], rows: Iterable[Sequence[Any]], name: str, sentences: list[str]
) -> FileResponse | None:
    target = BytesIO()
    try:
        workbook.write_workbook(target, [(title[:31], names, rows)])
    except RegisterError as error:
        sentences.append(error.message)
        return None
    target.seek(0)
    return FileResponse(target, as_attachment=True, filename=name, content_type=workbook.MEDIA_TYPE)
