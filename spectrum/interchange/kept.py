"""What a file cannot change: what was filed, decided or entered as a step stays as it was then.

Such rows come in together with the object that they are about, or are there already and the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any, get_args, get_origin, get_type_hints

from licences.applying import GENERAL, State, unknown_fields
from licences.life import FIELDS
from licences.models import Application, Licence, LicenceEvent
from sites.saying import written
from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.filing.conflicts import LinkReport, ReportRow
from spectrum.filing.figures import RECEIVER, StationFigures
from spectrum.models import ApplicationLink, FiledStation

from .tables import Table

#: What only a step sets, besides the dates of a licence: the number of the licence, and the end of a channel.
_SET_BY_STEPS = {*FIELDS, "number", "ended_why"}


def refused(
    table: Table, obj: Any, before: dict[str, Any] | None, now: dict[str, Any]
) -> Iterator[tuple[str, str]]:
    """What keeps a new or changed row out: the field and the sentence. ``before`` is None for a new row."""
    if before is None:
        yield from _new(table, obj)
    elif table.part_of:
        noun = type(obj)._meta.verbose_name
        yield (
            "",
            sentence(
                _(
                    "this {noun} is in the register and differs; what was entered then is not changed by a file."
                ),
                noun=written(noun),
            ),
        )
    else:
        yield from _changed(table, obj, before, now)
    yield from _shape(obj)


def _new(table: Table, obj: Any) -> Iterator[tuple[str, str]]:
    channel, station = getattr(obj, "channel", None), getattr(obj, "station", None)
    if isinstance(obj, LicenceEvent) and channel is not None and channel.licence_id != obj.licence_id:
        yield "channel", sentence(_("this channel is not one of licence {licence}."), licence=obj.licence)
    if (
        isinstance(obj, FiledStation)
        and station is not None
        and station.link_id != obj.application_link.link_id
    ):
        yield (
            "station",
            sentence(_("this station is not one of link {link}."), link=obj.application_link.link.code),
        )
    if table.part_of:
        whole = getattr(obj, table.part_of)
        if whole is not None and whole.pk > 0:  # stand-ins of new rows are negative
            yield (
                table.part_of,
                sentence(
                    _("{whole} is in the register already; add to it on its page, not by a file."),
                    whole=whole,
                ),
            )
    if isinstance(obj, Licence) and obj.application is not None and obj.application.state != State.GRANTED:
        yield (
            "application",
            sentence(
                _("application {number} is {state}; a licence comes from a granted one."),
                number=obj.application,
                state=State(obj.application.state).written,
            ),
        )


def _changed(
    table: Table, obj: Any, before: dict[str, Any], now: dict[str, Any]
) -> Iterator[tuple[str, str]]:
    differing = [name for name, value in now.items() if before[name] != value]
    if isinstance(obj, Application) and before["state"] != State.DRAFTING:
        yield (
            "",
            sentence(
                _(
                    "application {number} is {state}; only one that is being drawn up can be changed by a file."
                ),
                number=obj,
                state=State(before["state"]).written,
            ),
        )
        return
    for name in differing:
        field = obj._meta.get_field(name)
        if field.name in table.kept:
            yield (
                field.name,
                sentence(
                    _("this is set by what is done on the page of {object} and is not changed by a file."),
                    object=obj,
                ),
            )


def _shape(obj: Any) -> Iterator[tuple[str, str]]:
    """Structures that pages and sheets rely on."""
    if isinstance(obj, FiledStation):
        if said := _misfit(obj.figures, StationFigures):
            yield "figures", said
        elif any(each.keys() != RECEIVER for each in obj.figures["receivers"]):
            yield (
                "figures",
                sentence(_("each of the receivers has {names}."), names=", ".join(sorted(RECEIVER))),
            )
    if isinstance(obj, ApplicationLink) and obj.report is not None:
        if said := _misfit(obj.report, LinkReport):
            yield "report", said
        else:
            wrong = (_misfit(row, ReportRow) for row in obj.report["rows"])
            yield from (("report", said) for said in wrong if said)
    if isinstance(obj, Application) and obj.filed_as is not None:
        yield from (("filed_as", said) for said in [_filed_as(obj.filed_as)] if said)
    if isinstance(obj, LicenceEvent):
        known = isinstance(obj.changes, dict) and obj.changes.keys() <= _SET_BY_STEPS
        if not known or any(not isinstance(pair, list) or len(pair) != 2 for pair in obj.changes.values()):
            yield (
                "changes",
                sentence(
                    _(
                        "expected what the step set, each with its value before and after, for example {example}."
                    ),
                    example='{"expires_on": ["2026-06-30", "2031-06-30"]}',
                ),
            )


def _filed_as(kept: Any) -> str:
    example = '{"asked": ["position"], "general": {"holder": "Our utility"}}'
    if (
        not isinstance(kept, dict)
        or set(kept) != {"asked", "general"}
        or not isinstance(kept["general"], dict)
    ):
        return sentence(
            _("expected the fields that were asked and what was answered, for example {example}."),
            example=example,
        )
    if said := unknown_fields(kept["asked"]):
        return said
    if any(name not in GENERAL or not isinstance(value, str) for name, value in kept["general"].items()):
        return sentence(
            _("general holds texts under {names}, for example {example}."),
            names=", ".join(GENERAL),
            example=example,
        )
    return ""


def _misfit(kept: Any, kind: type[Any]) -> str:
    """Why a structure is not what a dataclass of this kind is made from, or nothing."""
    hints = get_type_hints(kind)
    names = [field.name for field in fields(kind)]
    if not isinstance(kept, dict):
        return sentence(_("expected a structure with {names}."), names=", ".join(names))
    if differing := sorted(kept.keys() ^ set(names)):
        said = {"name": repr(differing[0][:40]), "names": ", ".join(names)}
        if differing[0] in names:
            return sentence(_("{name} is missing; expected {names}."), **said)
        return sentence(_("{name} is not known; expected {names}."), **said)
    wrong = next((name for name in names if not _fits(kept[name], hints[name])), None)
    if wrong is None:
        return ""
    return sentence(
        _("{name} has the value {value}, which cannot stand there."),
        name=wrong,
        value=repr(str(kept[wrong])[:40]),
    )


def _fits(value: Any, hint: Any) -> bool:
    """Whether a value read from JSON can stand where this type is written."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin is list:
        return isinstance(value, list) and all(_fits(each, inner[0]) for each in value)
    if inner and origin is not dict:  # one of several
        return any(_fits(value, each) for each in inner)
    if hint is Any:
        return True
    kinds: Any = {float: (int, float), ReportRow: dict}.get(hint, origin or hint)
    return isinstance(value, kinds) and (hint is bool or not isinstance(value, bool))


def open_twice(drafted: Mapping[Table, Sequence[Any]]) -> Iterator[tuple[Table, int, str, str]]:
    """New rows that put a link into a second application that is not decided: table, row, field, sentence."""
    made = [(t, d) for t, drafts in drafted.items() if t.model is ApplicationLink for d in drafts if d.is_new]
    open_ones = (State.DRAFTING, State.FILED)
    waiting = [
        (table, draft, draft.obj.application, draft.obj.link)
        for table, draft in made
        if draft.obj.application and draft.obj.link and draft.obj.application.state in open_ones
    ]
    links = [link.pk for *_rest, link in waiting if link.pk > 0]
    stored = ApplicationLink.objects.filter(link__in=links, application__state__in=open_ones)
    taken: dict[int, Any] = {row.link_id: row.application for row in stored.select_related("application")}
    for table, draft, application, link in waiting:
        if (other := taken.get(link.pk)) is not None:
            yield (
                table,
                draft.number,
                "link",
                sentence(
                    _("{link} is in application {number} already, which is not decided."),
                    link=link.code,
                    number=other,
                ),
            )
        taken[link.pk] = application
        if application.state == State.DRAFTING and link.holder_id != application.holder_id:
            yield (
                table,
                draft.number,
                "link",
                sentence(
                    _("{link} is a link of {theirs}, the application is one of {applicant}."),
                    link=link.code,
                    theirs=link.holder,
                    applicant=application.holder,
                ),
            )
