"""A link and its stations entered on one page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.utils import ErrorDict
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.models import Holder
from sites.errors import RegisterError
from sites.forms.base import RegisterForm
from sites.forms.figures import WholeField
from sites.models import AntennaType, Person, Site
from spectrum.models import Link, Station

from .stations import HOW_STRONG, ON_WHICH_CHANNEL, WHERE, WITH_WHAT, StationForm

MOST_REMOTES = 400
REMOTES_AT_FIRST = 2


class LinkForm(RegisterForm):
    """What belongs to the link and not to one of its stations."""

    channel_number = WholeField(
        label=_("channel"),
        required=False,
        min_value=1,
        max_value=20_000,
        help_text=_("A number of the plan fills the frequencies that are left empty."),
    )
    go_at = forms.ChoiceField(label=_("the go frequency is sent by"), required=False)

    class Meta(RegisterForm.Meta):
        model = Link
        fields = [
            "code",
            "name",
            "holder",
            "status",
            "responsible",
            "channel_plan",
            "starts_on",
            "ends_on",
            "reserved_until",
            "required_bit_rate_kbps",
            "required_round_trip_ms",
            "assumptions",
            "notes",
        ]
        labels = {
            "required_bit_rate_kbps": _("bit rate needed (kbit/s)"),
            "required_round_trip_ms": _("round trip needed (ms)"),
        }
        help_texts = {
            "reserved_until": _("While it is planned. Empty: its pair is held without an end."),
        }

    WHICH = ("code", "name", "holder", "status", "responsible")
    CHANNEL = ("channel_plan", "channel_number", "go_at")
    SERVICE = ("required_bit_rate_kbps", "required_round_trip_ms", "starts_on", "ends_on", "reserved_until")
    BESIDES = ("assumptions", "notes")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        first, others = (
            (gettext("hub"), gettext("remotes"))
            if self.is_multipoint
            else (gettext("end A"), gettext("end B"))
        )
        self.fields["go_at"].choices = [("first", first), ("other", others)]  # type: ignore[attr-defined]
        own: list[tuple[int, str]] = []
        other: list[tuple[int, str]] = []
        for pk, name, ours in Holder.objects.order_by("name").values_list("pk", "name", "own"):
            (own if ours else other).append((pk, name))
        by_whose = [("", gettext("choose")), (gettext("our own"), own), (gettext("others"), other)]
        self.fields["holder"].choices = by_whose  # type: ignore[attr-defined]
        self.fields["responsible"].queryset = Person.objects.filter(is_active=True)  # type: ignore[attr-defined]

    @property
    def is_multipoint(self) -> bool:
        return bool(self.instance.kind == Link.Kind.POINT_TO_MULTIPOINT)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        self.pair_hz: tuple[int, int] | None = None
        number, plan = data.get("channel_number"), data.get("channel_plan")
        if number and plan is None and "channel_plan" not in self.errors:
            self.add_error("channel_plan", gettext("A channel's number needs its plan: choose the plan."))
        elif number and plan is not None:
            try:
                go_hz, return_hz = plan.pair_hz(number)
            except ValueError as error:
                self.add_error("channel_number", str(error))
            else:
                self.pair_hz = (return_hz, go_hz) if data.get("go_at") == "other" else (go_hz, return_hz)
        return data


@dataclass(frozen=True)
class Part:
    """One heading of the page: fields of the link, then the same fields of each fixed station."""

    title: str
    of_link: list[forms.BoundField]
    ends: list[tuple[str, list[forms.BoundField]]]


class LinkEntry:
    """The forms of a link and of all its stations, read and checked together."""

    def __init__(self, link: Link, *, data: Mapping[str, Any] | None = None, one_more: bool = False) -> None:
        self.link, self.data = link, data
        self.form = LinkForm(data, instance=link)
        stored = (
            list(link.stations.select_related("site", "licensed_channel__licence__authority"))
            if link.pk
            else []
        )
        antennas = AntennaType.objects.order_by("name").values_list("pk", "name")
        self._choices: dict[str, list[Any]] = {"antenna_type": [("", gettext("choose")), *antennas]}
        self.multipoint = self.form.is_multipoint
        if self.multipoint:
            hub = next((s for s in stored if s.role == Station.Role.HUB), None)
            self.ends = [
                self._station("hub", "hub", hub or Station(role=Station.Role.HUB, label="hub"), None)
            ]
            self.remotes = self._remotes([s for s in stored if s.role == Station.Role.REMOTE], one_more)
        else:
            a, b = (
                next((s for s in stored if s.role == role), None) for role in (Station.Role.A, Station.Role.B)
            )
            first = self._station("a", "A", a or Station(role=Station.Role.A, label="A"), None)
            self.ends = [first, self._station("b", "B", b or Station(role=Station.Role.B, label="B"), first)]
            self.remotes = []

    def _station(self, prefix: str, name: str, station: Station, like: StationForm | None) -> StationForm:
        form = StationForm(
            self.data, instance=station, prefix=prefix, name=name, like=like, choices=self._choices
        )
        if "mode" not in self._choices:
            self._choices["mode"] = list(form.fields["mode"].choices)  # type: ignore[attr-defined]
        return form

    def _remotes(self, stored: list[Station], one_more: bool) -> list[StationForm]:
        by_id = {str(station.pk): station for station in stored}
        if self.data is None:
            rows: list[Station] = stored or [
                Station(role=Station.Role.REMOTE, label=str(n + 1)) for n in range(REMOTES_AT_FIRST)
            ]
        else:
            rows = []
            for number in range(_count(self.data.get("remotes"))):
                known = by_id.get(str(self.data.get(f"r{number}-id", "")))
                rows.append(known or Station(role=Station.Role.REMOTE))
        forms_ = [self._station(f"r{n}", str(n + 1), station, self.ends[0]) for n, station in enumerate(rows)]
        if one_more and len(forms_) < MOST_REMOTES:
            prefix = f"r{len(forms_)}"
            form = StationForm(
                instance=Station(role=Station.Role.REMOTE, label=str(len(forms_) + 1)),
                prefix=prefix,
                name=str(len(forms_) + 1),
                like=self.ends[0],
                choices=self._choices,
            )
            forms_.append(form)
        return forms_

    def at(self, places: Iterable[Site]) -> LinkEntry:
        """The same with the sites filled in of the ends, or of the hub and its remotes, as far as they are given."""
        for form, place in zip((*self.ends, *self.remotes), places, strict=False):
            form.initial["site"] = place.pk
        return self

    @property
    def all_forms(self) -> list[RegisterForm]:
        return [self.form, *self.ends, *self.remotes]

    def quietly(self) -> LinkEntry:
        """The same with what was typed and without judging it: a row was added, nothing was sent."""
        for form in self.all_forms:
            form._errors = ErrorDict()  # type: ignore[attr-defined]
        return self

    def is_valid(self) -> bool:
        valid = self.form.is_valid()
        pair = getattr(self.form, "pair_hz", None)
        for form in (*self.ends, *self.remotes):
            if form.removing:
                continue
            if pair is not None:
                form.pair_hz = pair if form is self.ends[0] else (pair[1], pair[0])
            valid = form.is_valid() and valid
        return valid

    @property
    def stations(self) -> list[Station]:
        """The stations as they are to be, without those that are being removed."""
        return [form.instance for form in (*self.ends, *self.remotes) if not form.removing]

    @property
    def errors(self) -> bool:
        """Whether anything was refused."""
        return any(
            form.errors for form in self.all_forms if form.is_bound and not getattr(form, "removing", False)
        )

    def non_field_errors(self) -> list[str]:
        """What is wrong with no single field, each with the station it is about."""
        said = [str(error) for error in self.form.non_field_errors()]
        for form in (*self.ends, *self.remotes):
            if form.is_bound and not form.removing:
                said += [
                    gettext("Station {name}: {error}").format(name=form.name, error=error)
                    for error in form.non_field_errors()
                ]
        return said

    def take_error(self, error: ValidationError | RegisterError) -> None:
        """Put what the service refused (``"A.tx_power_dbm"`` for a station) beside its field."""
        if not isinstance(error, ValidationError) or not hasattr(error, "error_dict"):
            self.form.take_error(error)
            return
        by_label = {form.instance.label: form for form in (*self.ends, *self.remotes)}
        for key, messages in error.message_dict.items():
            label, dot, field = key.rpartition(".")
            form: RegisterForm = by_label[label] if dot and label in by_label else self.form
            form.take_error(ValidationError({field if dot else key: messages}))

    def take_stale(self, message: str) -> None:
        """Say who was first, keep what was typed, and show beside it what the register has now."""
        self.form.add_error(None, message)
        stored = Link.objects.filter(pk=self.link.pk).first()
        if stored is None:
            return
        self.form.show_beside(LinkForm(instance=stored))
        now = {station.pk: station for station in stored.stations.all()}
        for form in (*self.ends, *self.remotes):
            if form.instance.pk in now:
                form.show_beside(StationForm(instance=now[form.instance.pk], name=form.name))

    def parts(self) -> Iterable[Part]:
        """The page in the order in which the engineer knows things."""
        form = self.form

        def ends(names: tuple[str, ...]) -> list[tuple[str, list[forms.BoundField]]]:
            titles = (gettext("Hub"),) if self.multipoint else (gettext("End A"), gettext("End B"))
            return [(title, end.bound(names)) for title, end in zip(titles, self.ends, strict=True)]

        yield Part(gettext("Which link"), [form[n] for n in form.WHICH], [])
        yield Part(gettext("Where"), [], ends(WHERE))
        yield Part(gettext("With what"), [], ends(WITH_WHAT))
        yield Part(gettext("On which channel"), [form[n] for n in form.CHANNEL], ends(ON_WHICH_CHANNEL))
        yield Part(gettext("How strong"), [], ends(HOW_STRONG))

    def remote_rows(self) -> list[tuple[StationForm, list[forms.BoundField]]]:
        names = ("label", *WHERE, *WITH_WHAT, *ON_WHICH_CHANNEL, *HOW_STRONG)
        return [(form, form.bound(names)) for form in self.remotes]

    def service(self) -> list[forms.BoundField]:
        return [self.form[name] for name in (*self.form.SERVICE, *self.form.BESIDES)]


def _count(typed: Any) -> int:
    text = str(typed or "")
    return min(int(text), MOST_REMOTES) if text.isascii() and text.isdigit() and len(text) < 6 else 0
