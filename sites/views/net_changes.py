"""What changed between two days, net: of each object what it was before and is after, and who changed it last."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import Any, Final

from django import forms
from django.core.paginator import Paginator
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.lazily import Words
from sites.on_day import FIRST_DAY, LAST_DAY
from sites.on_day.differences import Asked, nets_of, portions_of_nets
from sites.on_day.net import FieldNet, Net, Outcome
from sites.reading import neutral, neutral_parts, written_day, written_moment
from sites.tables import delimited, workbook

from .access import Page
from .addresses import PAGE_OF_PARENT, PAGES, page_of_id
from .change_words import Names, kind_of_object, model_of, names_of_referred, shown_value, words_of_field
from .exporting import portions

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
USUAL_DAYS = 7
OBJECTS_A_PAGE = 50
SHOWN_VALUES = 8  # of an object that was entered or removed; a file has all
OUTCOMES: Final[dict[Outcome, Words]] = {
    Outcome.ENTERED: _("entered"),
    Outcome.REMOVED: _("removed"),
    Outcome.CHANGED: _("changed"),
    Outcome.CHANGED_BACK: _("changed and changed back: no difference"),
    Outcome.ENTERED_AND_REMOVED: _("entered and removed again: no difference"),
}
FILE_COLUMNS = (
    "object_type", "object_id", "kind", "object", "outcome", "field", "before", "after", "cancelled", "last_changed_by",
    "last_changed_at_utc", "times",
)  # fmt: skip


class NetForm(forms.Form):
    """Which days, and of which objects."""

    since = forms.DateField(label=_("from (day)"), widget=DAY, required=False)
    until = forms.DateField(label=_("to (day)"), widget=DAY, required=False)
    object_type = forms.ChoiceField(label=_("kind of object"), required=False)
    object_id = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=1, max_value=2**63 - 1)
    q = forms.CharField(label=_("search"), required=False, max_length=100)

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        kinds = sorted((name, kind_of_object(name)) for name in (*PAGES, *PAGE_OF_PARENT))
        self.fields["object_type"].choices = [("", gettext("all")), *kinds]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        asked = super().clean() or {}
        for name in ("since", "until"):
            day = asked.get(name)
            if day is not None and not FIRST_DAY <= day <= LAST_DAY:
                said = gettext("{day} was given; a day from {first} to {last} was expected.")
                self.add_error(name, said.format(day=day, first=FIRST_DAY, last=LAST_DAY))
        since, until = asked.get("since"), asked.get("until")
        if since and until and since > until:
            self.add_error("until", gettext("The last day lies before the first, {day}.").format(day=since))
        return asked

    def asked(self) -> Asked:
        """What was asked; without days the last week up to today, without a first day the week up to the last."""
        given = self.cleaned_data
        last: dt.date = given["until"] or max(timezone.now().date(), given["since"] or FIRST_DAY)
        first: dt.date = given["since"] or max(FIRST_DAY, last - dt.timedelta(days=USUAL_DAYS))
        return Asked(first, last, given["object_type"], given["object_id"], given["q"])


@dataclass(frozen=True)
class Row:
    """One line of the page: an object, and what is to be said of one of its fields, or of all of it."""

    net: Net
    kind: str
    outcome: Words
    href: str
    field: str
    before: str
    after: str
    by: str
    at: str


class NetChanges(Page):
    """What remains of the changes between two days. ``format`` gives it as a file."""

    needs = "places.view_changerecord"
    act = _("reading the change record")
    undated_because = _("It is about two days of its own: give them in its fields.")
    http_method_names = ("get", "head", "options")

    def get(self, request: HttpRequest) -> HttpResponseBase:
        form = NetForm(request.GET)
        if not form.is_valid():
            return render(request, "net_changes.html", {"form": form}, status=422)
        asked, trouble, wanted = form.asked(), "", str(request.GET.get("format", ""))
        if wanted in ("csv", "xlsx"):
            try:
                return _file(asked, wanted)
            except RegisterError as error:
                trouble = error.message
        elif wanted:
            trouble = gettext("This list cannot be had as “{asked}”; it can as {known}.").format(
                asked=wanted[:40], known="CSV, XLSX"
            )
        return self._page(request, form, asked, trouble)

    def _page(self, request: HttpRequest, form: NetForm, asked: Asked, trouble: str) -> HttpResponse:
        page = Paginator(asked.touched(), OBJECTS_A_PAGE).get_page(request.GET.get("page") or 1)
        nets = nets_of(asked, [(row["object_type"], row["object_id"]) for row in page.object_list])
        form.fields["since"].initial, form.fields["until"].initial = asked.first, asked.last
        context = {
            "form": form,
            "asked": asked,
            "page": page,
            "rows": list(_rows(nets)),
            "lead": _lead(asked, page.paginator.count),
            "trouble": trouble,
        }
        return render(request, "net_changes.html", context, status=422 if trouble else 200)


def _lead(asked: Asked, objects: int) -> str:
    touched = ngettext("{count} object was touched", "{count} objects were touched", objects)
    said = gettext("{touched} from {first} to the end of {last} (UTC)").format(
        touched=touched.format(count=objects), first=written_day(asked.first), last=written_day(asked.last)
    )
    if asked.words:  # which choose objects, not entries
        return f"{said}."
    counted = asked.counted()
    entries = ngettext("{count} entry", "{count} entries", counted["entries"])
    people = ngettext(
        "{count} person or part of the system", "{count} people or parts of the system", counted["people"]
    )
    return gettext("{said}: {entries} by {people}.").format(
        said=said,
        entries=entries.format(count=counted["entries"]),
        people=people.format(count=counted["people"]),
    )


def _rows(nets: Iterable[Net]) -> Iterator[Row]:
    listed = list(nets)
    names = _names(listed)
    for net in listed:
        model = model_of(net.object_type)
        kind, words = kind_of_object(net.object_type), OUTCOMES[net.outcome]
        href = page_of_id(net.object_type, net.object_id) if net.is_there else ""
        stayed = net.was_there and net.is_there
        if net.outcome is Outcome.CHANGED:
            for each in _in_order(model, net):
                before = shown_value(model, each.name, each.before, names)
                after = shown_value(model, each.name, each.after, names)
                if each.cancelled:
                    after = gettext("changed back: no difference")
                label = words_of_field(model, each.name)
                yield Row(net, kind, words, href, label, before, after, each.by, written_moment(each.at))
            continue
        before = after = ""
        if not stayed:
            before = _together(net, names, "before") if net.was_there else ""
            after = _together(net, names, "after") if net.is_there else ""
        fields = (
            ", ".join(words_of_field(model, each.name) for each in _in_order(model, net)) if stayed else ""
        )
        yield Row(net, kind, words, href, fields, before, after, net.by, written_moment(net.at))


def _in_order(model: Any, net: Net) -> list[FieldNet]:
    """The fields in the order in which the model has them; a database may keep the keys of an entry in its own."""
    places = {f.attname: place for place, f in enumerate(model._meta.concrete_fields)} if model else {}
    return sorted(net.fields, key=lambda each: (places.get(each.name, len(places)), each.name))


def _together(net: Net, names: Names, side: str) -> str:
    """The values of an object that came or went, as far as a person reads them in a line."""
    model = model_of(net.object_type)
    shown = [
        f"{words_of_field(model, each.name)}: {shown_value(model, each.name, getattr(each, side), names)}"
        for each in _in_order(model, net)
    ]
    more = len(shown) - SHOWN_VALUES
    if more > 0:
        left = ngettext("and {count} more", "and {count} more", more).format(count=more)
        shown = [*shown[:SHOWN_VALUES], left]
    return "; ".join(shown)


def _names(nets: Iterable[Net]) -> Names:
    return names_of_referred(
        (model_of(net.object_type), {each.name: getattr(each, side) for each in net.fields})
        for net in nets
        for side in ("before", "after")
    )


def _file(asked: Asked, form: str) -> StreamingHttpResponse | FileResponse:
    name = f"net-changes-{asked.first}-to-{asked.last}.{form}"
    with neutral():  # a file means the same whoever asked for it
        if form == "csv":
            lines = delimited.csv_lines(FILE_COLUMNS, _file_rows(asked))
            streamed = StreamingHttpResponse(
                neutral_parts(portions(lines)), content_type=delimited.MEDIA_TYPE
            )
            streamed["Content-Disposition"] = f'attachment; filename="{name}"'
            return streamed
        target = BytesIO()
        workbook.write_workbook(target, [("net changes", FILE_COLUMNS, _file_rows(asked))])
        target.seek(0)
        return FileResponse(target, as_attachment=True, filename=name, content_type=workbook.MEDIA_TYPE)


def _file_rows(asked: Asked) -> Iterator[list[Any]]:
    for nets in portions_of_nets(asked):
        names = _names(nets)
        for net in nets:
            model = model_of(net.object_type)
            head = [
                net.object_type,
                net.object_id,
                kind_of_object(net.object_type),
                net.label,
                net.outcome.value,
            ]
            if not net.fields:
                yield [*head, None, None, None, True, net.by, net.at, net.entries]
            for each in _in_order(model, net):
                values = (_plain(model, each, side, names) for side in ("before", "after"))
                yield [*head, each.name, *values, each.cancelled, each.by, each.at, each.times]


def _plain(model: Any, each: FieldNet, side: str, names: Names) -> Any:
    """A recorded value in a file: what it refers to by its name, structures as JSON, all else as it was recorded."""
    value = getattr(each, side)
    if isinstance(value, dict | list):
        return json.dumps(value, ensure_ascii=False)
    field = next((f for f in model._meta.concrete_fields if f.attname == each.name), None) if model else None
    if value is not None and field is not None and field.related_model is not None:
        return shown_value(model, each.name, value, names)
    return value
