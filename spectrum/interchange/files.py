"""Tables as files: a workbook with a sheet each, an archive with a CSV file each, or one CSV file."""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import IO, Any

from django.db.models import QuerySet

from sites.errors import RegisterError
from sites.sentences import sentence
from sites.tables import delimited, workbook
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy
from spectrum.extracts.reading.delimited import rows_of, text_or_older
from spectrum.extracts.reading.workbook import all_sheets

from .columns import column_of, to_cell
from .named import numbered, with_names
from .tables import TABLES, Table, key_field, key_paths, table_named

LARGEST_FILE = 10 * 1024 * 1024
LARGEST_UNPACKED = 100 * 1024 * 1024
MOST_ROWS = 50_000
DELIMITERS = ",;\t"


@dataclass(frozen=True)
class Sheet:
    """A table as it was read: headings, and rows with their numbers as a spreadsheet counts them."""

    table: Table
    headings: list[str]
    rows: list[tuple[int, Sequence[Any]]]


def names_of(table: Table) -> list[str]:
    """The columns of a table; what it refers to stands as that object's key."""
    return [name for field in table.fields for name, _path in columns_of(field)]


def columns_of(field: Any) -> list[tuple[str, str]]:
    """A field's columns with their paths: one, or those of the key of the object that it refers to."""
    if field.related_model is None:
        return [(column_of(field), field.name)]
    paths = key_paths(field.related_model)
    if len(paths) == 1:
        return [(field.name, f"{field.name}__{paths[0]}")]
    return [(f"{field.name}_{_short(field.related_model, path)}", f"{field.name}__{path}") for path in paths]


def _short(model: Any, path: str) -> str:
    """A path of a key as a name; the last part goes without saying where it is the whole key of its object."""
    first, _dots, rest = path.partition("__")
    field = model._meta.get_field(first)
    if not rest:
        return column_of(field)
    whole = len(key_paths(field.related_model)) == 1
    return first if whole else f"{first}_{_short(field.related_model, rest)}"


def rows_of_table(table: Table, rows: QuerySet[Any] | None = None) -> Iterator[list[Any]]:
    """The stored rows as cells, in the order of their keys."""
    paths = [path for field in table.fields for _name, path in columns_of(field)]
    ends = [key_field(table.model, path) for path in paths]
    forms = [with_names(end) if numbered(end) else None for end in ends]
    chosen = table.model._default_manager.all() if rows is None else rows
    order = [*key_paths(table.model), "pk"]
    for values in chosen.order_by(*order).values_list(*paths).iterator(chunk_size=2000):
        yield [
            to_cell(end, form(value) if form else value)
            for end, form, value in zip(ends, forms, values, strict=True)
        ]


def write_book(target: IO[bytes], tables: Iterable[Table] = TABLES) -> None:
    """The register as a workbook, a sheet a table."""
    workbook.write_workbook(target, ((t.name, names_of(t), rows_of_table(t)) for t in tables))


def write_archive(target: IO[bytes], tables: Iterable[Table] = TABLES) -> None:
    """The register as an archive, a CSV file a table."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for table in tables:
            with archive.open(f"{table.name}.csv", "w", force_zip64=True) as file:
                for line in delimited.csv_lines(names_of(table), rows_of_table(table)):
                    file.write(line.encode("utf-8"))


def read_file(content: bytes, name: str, table: str = "") -> tuple[list[Sheet], list[str]]:
    """The tables of a file, in the order in which they are written, and notices. RegisterError if it has none.

    A CSV file is of the table named, or of the one that its own name names.
    """
    if len(content) > LARGEST_FILE:
        raise RegisterError(
            sentence(
                _("{name} has {count:.0f} MB; at most {largest_file:.0f} MB are read. Split it."),
                name=name,
                count=len(content) / 2**20,
                largest_file=LARGEST_FILE / 2**20,
            ),
            field="file",
        )
    if not content.strip():
        raise RegisterError(
            sentence(_("{name} is empty. Export a table to see what one looks like."), name=name),
            field="file",
        )
    notices: list[str] = []
    named = list(_raw(content, name, table, notices))
    sheets: dict[str, Sheet] = {}
    for table_name, rows in named:
        found = table_named(table_name)
        if found.name in sheets:
            raise RegisterError(
                sentence(_("{name} has the table {found} twice; keep one."), name=name, found=found.name),
                field="file",
            )
        if sheet := _sheet(found, rows):
            sheets[found.name] = sheet
    if not any(sheet.rows for sheet in sheets.values()):
        raise RegisterError(
            sentence(
                _("{name} has headings and no row below them, so there is nothing to import."), name=name
            ),
            field="file",
        )
    if sum(len(sheet.rows) for sheet in sheets.values()) > MOST_ROWS:
        raise RegisterError(
            sentence(
                ngettext_lazy(
                    "{name} has more than {count} row; split it by table.",
                    "{name} has more than {count} rows; split it by table.",
                ),
                name=name,
                count=MOST_ROWS,
            ),
            field="file",
        )
    return [sheets[each.name] for each in TABLES if each.name in sheets], notices


def _raw(
    content: bytes, name: str, table: str, notices: list[str]
) -> Iterator[tuple[str, Iterable[Sequence[Any]]]]:
    if not content.startswith(b"PK\x03\x04"):
        yield table or name.rpartition("/")[2].rpartition(".")[0], _csv(content, name, notices)
        return
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            entries = [entry for entry in archive.infolist() if not entry.is_dir()]
            if sum(entry.file_size for entry in entries) > LARGEST_UNPACKED:
                raise RegisterError(
                    sentence(
                        _("{name} unpacks to more than {largest_unpacked:.0f} MB. Split it."),
                        name=name,
                        largest_unpacked=LARGEST_UNPACKED / 2**20,
                    ),
                    field="file",
                )
            if any(entry.filename.startswith("xl/") for entry in entries):
                yield from all_sheets(content)
                return
            for entry in entries:
                if not entry.filename.lower().endswith(".csv"):
                    raise RegisterError(
                        sentence(
                            _(
                                "{name} holds {filename}; an archive of CSV files named after their tables was expected."
                            ),
                            name=name,
                            filename=entry.filename[:60],
                        ),
                        field="file",
                    )
                yield entry.filename[:-4], _csv(archive.read(entry), entry.filename, notices)
    except (zipfile.BadZipFile, RuntimeError, EOFError, zipfile.zlib.error) as error:  # type: ignore[attr-defined]
        raise RegisterError(
            sentence(_("{name} cannot be unpacked ({error}). Save it again."), name=name, error=error),
            field="file",
        ) from error


def _csv(content: bytes, name: str, notices: list[str]) -> list[list[str]]:
    text, older = text_or_older(content)
    if older:
        notices.append(
            sentence(
                _(
                    "{name} is not UTF-8 and was read as windows-1252. Look at names with accents before "
                    "applying it; if they are wrong, save the file as UTF-8."
                ),
                name=name,
            )
        )
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(DELIMITERS, key=first.count)
    return list(rows_of(text, delimiter))


def _sheet(table: Table, rows: Iterable[Sequence[Any]]) -> Sheet | None:
    numbered = [
        (number, row)
        for number, row in enumerate(rows, start=1)
        if any(cell is not None and str(cell).strip() for cell in row)
    ]
    if not numbered:
        return None
    _number, head = numbered[0]
    return Sheet(table, ["" if cell is None else str(cell).strip() for cell in head], numbered[1:])
