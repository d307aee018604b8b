"""From rows to objects of the register, compared with what is stored. Reads only; every trouble is gathered."""

from __future__ import annotations

import difflib
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError

from sites.saying import said, sentences_of, written
from sites.sentences import joined, sentence
from sites.services.record import snapshot
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy
from spectrum.extracts.problems import quoted
from spectrum.models import Link, Station

from .columns import CellError, from_cell
from .files import Sheet, columns_of, names_of
from .kept import open_twice, refused
from .named import Numbered, exchanged, names_in, numbered
from .rules import NEEDED, Key, broken_rules, ends_of, flat, portions, when_empty
from .tables import Table, key_paths, table_of

MOST_TROUBLES = 500
TICK_EVERY = 50


@dataclass(frozen=True)
class Trouble:
    """One thing that keeps a file out. The row counts as a spreadsheet does: the headings are row 1."""

    table: str
    row: int
    column: str
    message: str

    def __str__(self) -> str:
        where = {"table": self.table, "row": self.row, "message": self.message}
        return said(
            sentence(_("{table}, row {row}, column {column}: {message}"), **where, column=self.column)
            if self.column
            else sentence(_("{table}, row {row}: {message}"), **where)
        )


@dataclass
class Draft:
    """An object as its row says it would be. ``of_its_kind`` are references to rows of the same table.

    ``before`` are the stored values of a known object; ``structures`` gives the values of fields that hold
    numbers of other objects, which a new object has only once it is written.
    """

    number: int
    obj: Any
    is_new: bool
    is_changed: bool = False
    of_its_kind: dict[str, Any] = field(default_factory=dict)
    before: dict[str, Any] | None = None
    structures: dict[str, Callable[[], Any]] = field(default_factory=dict)


@dataclass
class Drafted:
    """What a file would do: per table its drafts, and what keeps it out."""

    tables: dict[Table, list[Draft]] = field(default_factory=dict)
    troubles: list[Trouble] = field(default_factory=list)
    more: int = 0

    def counts(self) -> dict[str, dict[str, int]]:
        return {
            table.name: {
                "new": sum(d.is_new for d in drafts),
                "changed": sum(d.is_changed and not d.is_new for d in drafts),
                "same": sum(not d.is_changed and not d.is_new for d in drafts),
            }
            for table, drafts in self.tables.items()
        }

    def add(self, table: Table, row: int, column: str, message: str) -> None:
        if len(self.troubles) < MOST_TROUBLES:
            self.troubles.append(Trouble(table.name, row, column, message))
        else:
            self.more += 1


def draft(sheets: Sequence[Sheet], tick: Callable[[int, int], None] = lambda done, total: None) -> Drafted:
    """Draft the rows of all sheets, in an order in which what is referred to comes first."""
    maker = _Maker(tick, sum(len(sheet.rows) for sheet in sheets))
    for sheet in sheets:
        maker.take(sheet)
    maker.links_have_stations()
    for table, number, column, message in open_twice(maker.drafted.tables):
        maker.drafted.add(table, number, column, message)
    order = [sheet.table.name for sheet in sheets]
    maker.drafted.troubles.sort(key=lambda trouble: (order.index(trouble.table), trouble.row))
    return maker.drafted


class _Maker:
    def __init__(self, tick: Callable[[int, int], None], total: int) -> None:
        self.drafted = Drafted()
        self._tick, self._total, self._done, self._made = tick, total, 0, 0
        self._by_key: dict[type, dict[Key, Any]] = defaultdict(dict)  # drafts, then stored ones looked up
        self._stored: dict[type, dict[Key, Any]] = {}

    def take(self, sheet: Sheet) -> None:
        table = sheet.table
        places = self._places(sheet)
        if places is None:
            return
        read = list(self._read(sheet, places))
        self._fetch(table.model, [key for _n, _cells, key in read])
        for model, keys in self._referred(table, read).items():
            self._fetch(model, keys)
        drafts: list[Draft] = []
        seen: dict[Key, int] = {}
        for number, cells, key in read:
            if key in seen:
                names = ", ".join(
                    name for f in table.fields if f.name in table.key for name, _p in columns_of(f)
                )
                self.drafted.add(
                    table,
                    number,
                    "",
                    sentence(
                        _("the same {names} as in row {row}. Each may stand once."),
                        names=names,
                        row=seen[key],
                    ),
                )
                continue
            seen[key] = number
            drafts.append(self._object(table, number, cells, key))
        for each in drafts:
            self._finish(table, each)
            self._done += 1
            if self._done % TICK_EVERY == 0:
                self._tick(self._done, self._total + 1)
        self.drafted.tables[table] = drafts

    def _places(self, sheet: Sheet) -> dict[str, int] | None:
        known, found = names_of(sheet.table), sheet.headings
        wrong = False
        for name in dict.fromkeys(found):
            if not name:
                continue
            if name not in known:
                near = difflib.get_close_matches(name, known, n=1)
                self.drafted.add(
                    sheet.table,
                    1,
                    name[:60],
                    sentence(
                        _("{table} has no such column. Is {near} meant?"),
                        table=sheet.table.name,
                        near=near[0],
                    )
                    if near
                    else sentence(
                        _("{table} has no such column. It has {names}."),
                        table=sheet.table.name,
                        names=", ".join(known),
                    ),
                )
                wrong = True
            elif found.count(name) > 1:
                self.drafted.add(
                    sheet.table, 1, name, sentence(_("the heading stands twice. Remove one of the columns."))
                )
                wrong = True
        for each in sheet.table.fields:
            for name, _path in columns_of(each) if each.name in sheet.table.key else ():
                if name not in found:
                    self.drafted.add(
                        sheet.table, 1, name, sentence(_("the column is missing; it tells the rows apart."))
                    )
                    wrong = True
        return None if wrong else {name: place for place, name in enumerate(found) if name}

    def _read(self, sheet: Sheet, places: dict[str, int]) -> Iterator[tuple[int, dict[str, Any], Key]]:
        """Number, values by field name, and key of each row whose cells can be read; a reference is its key."""
        for number, row in sheet.rows:
            before = len(self.drafted.troubles) + self.drafted.more
            if any(str(cell or "").strip() for cell in row[len(sheet.headings) :]):
                self.drafted.add(
                    sheet.table,
                    number,
                    "",
                    sentence(
                        ngettext_lazy(
                            "{count} cell under {headings}. A cell that holds the delimiter must stand in quotation marks.",
                            "{count} cells under {headings}. A cell that holds the delimiter must stand in quotation marks.",
                        ),
                        count=len(row),
                        headings=sentence(
                            ngettext_lazy("{count} heading", "{count} headings"), count=len(sheet.headings)
                        ),
                    ),
                )
                continue
            cells: dict[str, Any] = {}
            for each in sheet.table.fields:
                found = self._cells(sheet.table, number, row, places, each)
                if found is not None:
                    cells[each.name] = found[0]
            if len(self.drafted.troubles) + self.drafted.more == before:
                yield number, cells, flat(cells[name] for name in sheet.table.key)

    def _cells(
        self, table: Table, number: int, row: Sequence[Any], places: dict[str, int], each: Any
    ) -> tuple[Any] | None:
        """The value of a field in a row, in a tuple; None where the file has no column for it."""
        names = [name for name, _path in columns_of(each)]
        missing = [name for name in names if name not in places]
        if missing:
            if len(missing) < len(names):
                self.drafted.add(
                    table,
                    1,
                    missing[0],
                    sentence(_("the column is missing beside {names}."), names=names[0]),
                )
            return None
        raw = [row[places[name]] if places[name] < len(row) else None for name in names]
        empty = [cell is None or (isinstance(cell, str) and not cell.strip()) for cell in raw]
        if all(empty):
            if (value := when_empty(each)) is NEEDED:
                self.drafted.add(table, number, names[0], sentence(_("the cell is empty; it needs a value.")))
            return (value,)
        values = []
        for name, path, cell, is_empty in zip(names, ends_of(each), raw, empty, strict=True):
            if is_empty:
                self.drafted.add(
                    table,
                    number,
                    name,
                    sentence(_("the cell is empty, though {names} and the like are given."), names=names[0]),
                )
                continue
            try:
                values.append(from_cell(path, cell))
            except CellError as error:
                self.drafted.add(table, number, name, error.written)
        return (tuple(values) if each.related_model else values[0] if values else None,)

    def _referred(self, table: Table, read: list[tuple[int, dict[str, Any], Key]]) -> dict[type, list[Key]]:
        wanted: dict[type, list[Key]] = defaultdict(list)
        for each in table.fields:
            if each.related_model is not None:
                wanted[each.related_model] += [
                    cells[each.name] for _n, cells, _k in read if cells.get(each.name)
                ]
            if which := numbered(each):
                for _n, cells, _k in read:
                    for model, key in names_in(cells.get(each.name), which):
                        wanted[model].append(key)
        return wanted

    def _fetch(self, model: type, keys: Iterable[Key]) -> None:
        """Look up the stored objects of these keys together."""
        wanted = {key for key in keys if key not in self._by_key[model]}
        if not wanted:
            return
        if model not in self._stored:
            rows = model._default_manager.values_list(*key_paths(model), "pk")  # type: ignore[attr-defined]
            self._stored[model] = {tuple(row[:-1]): row[-1] for row in rows.iterator(chunk_size=2000)}
        pks = {self._stored[model][key]: key for key in wanted if key in self._stored[model]}
        relations = [f.name for f in model._meta.concrete_fields if f.related_model]  # type: ignore[attr-defined]
        query = model._default_manager.select_related(*relations) if relations else model._default_manager  # type: ignore[attr-defined]
        for some in portions(list(pks)):
            for pk, obj in query.in_bulk(some).items():
                self._by_key[model][pks[pk]] = obj

    def _object(self, table: Table, number: int, cells: dict[str, Any], key: Key) -> Draft:
        stored = self._by_key[table.model].get(key)
        obj = table.model() if stored is None else stored
        made = Draft(number, obj, stored is None)
        before = made.before = None if stored is None else snapshot(obj)
        for each in table.fields:
            if each.name not in cells:
                if stored is None and when_empty(each) is NEEDED:
                    self.drafted.add(
                        table,
                        number,
                        columns_of(each)[0][0],
                        sentence(_("the column is missing; a new row needs it.")),
                    )
                continue
            value = cells[each.name]
            if which := numbered(each):
                made.structures[each.name] = self._structure(table, number, each, value, which)
                setattr(obj, each.name, made.structures[each.name]())
            elif each.related_model is None:
                setattr(obj, each.name, value)
            elif each.related_model is table.model:
                made.of_its_kind[each.name] = value
            else:
                setattr(obj, each.name, self._reference(table, number, each, value))
        if stored is None:
            self._made += 1
            obj.pk = -self._made  # a stand-in, so that others can refer to it before it is written
            self._by_key[table.model][key] = obj
        made.is_changed = before is not None and before != snapshot(obj)
        return made

    def _reference(self, table: Table, number: int, each: Any, key: Key | None) -> Any:
        if not key:
            return None
        found = self._by_key[each.related_model].get(key)
        if found is None:
            noun = each.related_model._meta.verbose_name
            self.drafted.add(
                table,
                number,
                columns_of(each)[0][0],
                sentence(
                    _(
                        "found {cell}; there is no such {noun}, neither in the register nor in {table} of this file. "
                        "Import it first, or correct it."
                    ),
                    cell=quoted(" ".join(map(str, key))),
                    noun=written(noun),
                    table=table_of(each.related_model),
                ),
            )
        return found

    def _structure(
        self, table: Table, number: int, each: Any, value: Any, which: Numbered
    ) -> Callable[[], Any]:
        """What gives the stored form of a structure that names objects."""
        for model, key in names_in(value, which):
            if key not in self._by_key[model]:
                self.drafted.add(
                    table,
                    number,
                    each.name,
                    sentence(
                        _(
                            "it names {name}; there is no such {noun}, neither in the register nor in {table} of this file."
                        ),
                        name=quoted(key[0]),
                        noun=written(model._meta.verbose_name),
                        table=table_of(model),
                    ),
                )

        def stored(model: type, name: Any) -> int | None:
            found = self._by_key[model].get((str(name),))
            return found.pk if found is not None else None

        return lambda: exchanged(value, which, stored)

    def _finish(self, table: Table, made: Draft) -> None:
        obj = made.obj
        for name, key in made.of_its_kind.items():
            before = getattr(obj, f"{name}_id")
            target = self._reference(table, made.number, table.model._meta.get_field(name), key)
            setattr(obj, name, target)
            made.is_changed = made.is_changed or (not made.is_new and before != getattr(obj, f"{name}_id"))
            made.of_its_kind[name] = target
        if not (made.is_new or made.is_changed):
            return
        relations = {f.name for f in table.fields if f.related_model}
        if any(getattr(obj, f"{f.name}_id") is None and not f.null for f in table.fields if f.related_model):
            return  # said already
        try:
            obj.clean_fields(exclude=relations)
            obj.clean()
        except ValidationError as error:
            self._refused(table, made.number, obj, error)
            return
        for name, message in refused(table, obj, made.before, snapshot(obj)):
            column = columns_of(obj._meta.get_field(name))[0][0] if name else ""
            self.drafted.add(table, made.number, column, message)
        for about, message in broken_rules(obj):
            columns = [columns_of(f)[0][0] for f in table.fields if f.name in about]
            self.drafted.add(table, made.number, ", ".join(columns), message)

    def _refused(self, table: Table, number: int, obj: Any, error: ValidationError) -> None:
        if not hasattr(error, "error_dict"):
            self.drafted.add(table, number, "", joined(" ", sentences_of(error)))
            return
        for name, errors in error.error_dict.items():
            each = next((f for f in table.fields if f.name == name), None)
            column = columns_of(each)[0][0] if each else ""
            refused = joined(" ", sentences_of(ValidationError(errors)))
            if each is not None and not each.related_model:
                refused = sentence(
                    _("found {cell}. {refused}"), cell=quoted(getattr(obj, name)), refused=refused
                )
            self.drafted.add(table, number, column, refused)

    def links_have_stations(self) -> None:
        """A link and its stations are one thing: a new link without any is refused."""
        links = [
            (t, d) for t, drafts in self.drafted.tables.items() if t.model is Link for d in drafts if d.is_new
        ]
        stations = [d for t, drafts in self.drafted.tables.items() if t.model is Station for d in drafts]
        having = {d.obj.link_id for d in stations}
        for table, made in links:
            if made.obj.pk not in having:
                self.drafted.add(
                    table,
                    made.number,
                    "code",
                    sentence(
                        _(
                            "the new link {link} has no stations. Give them in the table stations of the same workbook or "
                            "archive."
                        ),
                        link=made.obj.code,
                    ),
                )
