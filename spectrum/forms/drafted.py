"""A link form as far as it can be read already, for its preview, and a sentence for each field that cannot."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.core.exceptions import NON_FIELD_ERRORS
from django.utils.translation import gettext

from sites.forms.base import RegisterForm
from spectrum.services.link_preview import SOMETHING, DraftStation

from .links import LinkEntry
from .stations import StationForm

# What a link may lack and still be judged: it says nothing about its radio, its dates or its papers.
_OF_NO_WEIGHT = frozenset(
    (
        "code",
        "name",
        "responsible",
        "required_bit_rate_kbps",
        "required_round_trip_ms",
        "assumptions",
        "notes",
    )
)


@dataclass(frozen=True)
class Unread:
    """One thing that the form does not say yet: whose field, its label, and what was expected."""

    whose: str
    label: str
    sentence: str
    is_needed: bool


def drafts_of(entry: LinkEntry) -> list[DraftStation]:
    """The stations of a form that was validated, those being removed left out."""
    forms = [form for form in (*entry.ends, *entry.remotes) if not form.removing]
    return [DraftStation(form.instance, _name(entry, form), _unknown(form)) for form in forms]


def may_be_judged(entry: LinkEntry) -> bool:
    """Whether what findings depend on could be read of the link itself."""
    return not set(entry.form.errors) - _OF_NO_WEIGHT


def unread(entry: LinkEntry) -> Iterator[Unread]:
    """What could not be read, or is missing, in the order of the page."""
    yield from _of_form(entry.form, gettext("Link"), _OF_NO_WEIGHT)
    for form in (*entry.ends, *entry.remotes):
        if not form.removing:
            name = _name(entry, form)
            yield from _of_form(form, name[:1].upper() + name[1:], frozenset(("label",)))


def _of_form(form: RegisterForm, whose: str, of_no_weight: frozenset[str]) -> Iterator[Unread]:
    for name, messages in form.errors.items():
        label = "" if name == NON_FIELD_ERRORS else str(form[name].label)
        label = label[:1].lower() + label[1:]
        for message in messages:
            yield Unread(whose, label, str(message), name not in of_no_weight)


def _name(entry: LinkEntry, form: StationForm) -> str:
    if form in entry.remotes:
        return gettext("remote {name}").format(name=form.name)
    return gettext("hub") if entry.multipoint else gettext("end {name}").format(name=form.name)


def _unknown(form: StationForm) -> frozenset[str]:
    """The model's fields that have no value to be trusted: refused, or wanted and empty."""
    refused = {form.stored_as.get(name, name) for name in form.errors} - {"label"}
    station = form.instance
    lacks_power = station.tx_frequency_hz is not None and station.tx_power_dbm is None
    if lacks_power and len(form.non_field_errors()) == 1:
        # The one rule that is broken says just this; the path can be drawn without it.
        refused = refused - {NON_FIELD_ERRORS} | {"tx_power_dbm"}
    elif NON_FIELD_ERRORS in refused:
        refused.add(SOMETHING)
    return frozenset(refused - {NON_FIELD_ERRORS})
