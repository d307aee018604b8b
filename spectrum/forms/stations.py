"""The form of one station, which takes from the other end what was left empty."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

from django import forms
from django.forms.models import ModelChoiceIterator
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.forms.papers import channel_field, site_field
from sites.forms.base import RegisterForm
from sites.forms.figures import MegahertzField, PowerField
from sites.templatetags.figures import khz, one
from spectrum.models import RadioMode, Station

WHERE = ("site", "antenna_height_agl_m")
WITH_WHAT = (
    "antenna_type",
    "azimuth_deg",
    "tilt_deg",
    "polarisation",
    "feeder_loss_db",
    "duplexer_loss_db",
    "duplexer_isolation_db",
    "antenna_spacing_m",
    "antenna_spacing_vertical_m",
    "mode",
)
ON_WHICH_CHANNEL = ("tx_frequency_mhz", "rx_frequency_mhz", "licensed_channel")
HOW_STRONG = ("tx_power_dbm",)
# What another station of the link is likely to share; an empty field takes it over.
SHARED = ("antenna_type", "polarisation", "feeder_loss_db", "duplexer_loss_db", "mode", "tx_power_dbm")
NEEDED = {
    "site": _("Give the site's code."),
    "antenna_type": _("Choose the antenna type."),
    "mode": _("Choose the radio and its mode."),
    "antenna_height_agl_m": _("Give the antenna height above ground."),
    "polarisation": _("Choose the polarisation."),
}


class _ByRadio(ModelChoiceIterator):
    """Modes in groups, one a radio type."""

    def __iter__(self) -> Iterator[Any]:
        yield ("", self.field.empty_label)
        modes = self.queryset.select_related("radio_type")
        for radio, group in itertools.groupby(modes, key=lambda mode: mode.radio_type.name):
            yield radio, [(mode.pk, self.field.label_from_instance(mode)) for mode in group]


class ModeField(forms.ModelChoiceField):
    """A radio in one of its modes: one choice instead of two that depend on each other."""

    iterator = _ByRadio

    def label_from_instance(self, obj: Any) -> str:
        # The radio first: a closed list shows the option alone, without the group that it stands in.
        return f"{obj.radio_type.name}, {obj.label}: {khz(obj.channel_width_hz)} kHz, {one(obj.bit_rate_kbps)} kbit/s"


class StationForm(RegisterForm):
    """One station. ``like`` is the form of the station whose values fill what is empty here."""

    stored_as = {"tx_frequency_mhz": "tx_frequency_hz", "rx_frequency_mhz": "rx_frequency_hz"}

    site = site_field(label=_("site"), required=False)
    mode = ModeField(
        label=_("radio and mode"), queryset=RadioMode.objects.all(), required=False, empty_label=_("choose")
    )
    tx_frequency_mhz = MegahertzField(label=_("transmits (MHz)"), required=False)
    rx_frequency_mhz = MegahertzField(label=_("receives (MHz)"), required=False)
    tx_power_dbm = PowerField(label=_("transmitter output"), required=False, help_text=_("40 dBm or 10 W."))
    licensed_channel = channel_field(
        label=_("licensed channel"),
        required=False,
        help_text=_("Authority, licence number/label. Empty: none yet."),
    )

    class Meta(RegisterForm.Meta):
        model = Station
        fields = [
            "label",
            "site",
            "antenna_height_agl_m",
            "antenna_type",
            "azimuth_deg",
            "tilt_deg",
            "polarisation",
            "feeder_loss_db",
            "duplexer_loss_db",
            "duplexer_isolation_db",
            "antenna_spacing_m",
            "antenna_spacing_vertical_m",
            "mode",
            "tx_power_dbm",
            "licensed_channel",
        ]
        labels = {
            "antenna_height_agl_m": _("antenna height (m)"),
            "azimuth_deg": _("azimuth (°)"),
            "tilt_deg": _("tilt (°)"),
            "antenna_spacing_m": _("antenna spacing, horizontal (m)"),
            "antenna_spacing_vertical_m": _("antenna spacing, vertical (m)"),
        }
        help_texts = {
            "label": _("Its number or name within the link."),
            "antenna_height_agl_m": _("Above ground."),
            "azimuth_deg": _("From true north. Empty: toward the other end."),
            "tilt_deg": _(
                "Up is positive. Empty: toward the other end; an omnidirectional antenna stands upright."
            ),
            "antenna_spacing_m": _("Of separate transmit and receive antennas."),
            "antenna_spacing_vertical_m": _("Of separate transmit and receive antennas."),
        }

    def __init__(
        self,
        *args: Any,
        name: str,
        like: StationForm | None = None,
        choices: dict[str, list[Any]] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.name, self.like = name, like
        self.pair_hz: tuple[int, int] | None = None
        self.removing = bool(self.data.get(self.add_prefix("gone"))) if self.is_bound else False
        for field in self.fields.values():
            field.required = False
        self.needed = NEEDED.keys() - (set() if like is None else set(SHARED))
        same = "" if like is None else gettext("as the hub") if like.name == "hub" else gettext("as end A")
        for shared in ("antenna_type", "mode", "polarisation"):
            chosen: Any = self.fields[shared]
            listed = [*(choices or {}).get(shared, chosen.choices)]
            empty = [("", same or gettext("choose"))] if like is not None or shared != "polarisation" else []
            chosen.choices = [*empty, *(choice for choice in listed if choice[0] != "")]
        if like is not None:
            self.fields["tx_power_dbm"].help_text = gettext("40 dBm or 10 W. Empty: {same}.").format(
                same=same
            )
            for shared in ("feeder_loss_db", "duplexer_loss_db"):
                self.fields[shared].help_text = gettext("Empty: {same}.").format(same=same)
            for frequency in ("tx_frequency_mhz", "rx_frequency_mhz"):
                self.fields[frequency].help_text = gettext("Empty: {same}, exchanged.").format(same=same)
        else:
            for loss in ("feeder_loss_db", "duplexer_loss_db"):
                self.fields[loss].help_text = gettext("Empty: 0.")
        if self.instance.pk is not None:
            self.initial["site"] = self.instance.site
            self.initial["licensed_channel"] = self.instance.licensed_channel
        elif like is not None:
            for shared in SHARED:
                self.initial[shared] = None

    def clean(self) -> dict[str, Any]:
        data = self.cleaned_data
        for name, value in self._from_elsewhere().items():
            if name in data and data[name] in (None, ""):
                data[name] = value
        for name in ("feeder_loss_db", "duplexer_loss_db"):
            if name in data and data[name] is None:
                data[name] = 0.0
        self.said_elsewhere = self._missing_at_the_other(data)
        for name, sentence in NEEDED.items():
            if name in data and data[name] in (None, "") and name not in self.said_elsewhere:
                self.add_error(name, sentence)
        if data.get("mode") is not None:
            self.instance.radio_type = data["mode"].radio_type
        return super().clean()

    def _from_elsewhere(self) -> dict[str, Any]:
        """What an empty field takes: the pair from the channel plan, the other end's settings, exchanged frequencies."""
        found: dict[str, Any] = {}
        if self.like is not None:
            other = getattr(self.like, "cleaned_data", {})
            found = {name: other.get(name) for name in SHARED}
            found["tx_frequency_mhz"] = other.get("rx_frequency_mhz")
            found["rx_frequency_mhz"] = other.get("tx_frequency_mhz")
        if self.pair_hz is not None:
            found["tx_frequency_mhz"], found["rx_frequency_mhz"] = self.pair_hz
        found["label"] = self.instance.label or self.name
        return found

    def _missing_at_the_other(self, data: dict[str, Any]) -> set[str]:
        """What this station would have taken from the other one, which is asked for it already."""
        if self.like is None:
            return set()
        missing = {name for name in SHARED if name in data and data[name] in (None, "")}
        frequencies = [data.get(name) for name in self.stored_as]
        return missing | set(self.stored_as.values()) if frequencies == [None, None] else missing

    def bound(self, names: tuple[str, ...]) -> list[forms.BoundField]:
        return [self[name] for name in names]

    def _get_validation_exclusions(self) -> set[str]:
        # What is missing has its own sentence already; the model need not say it a second time.
        return (
            super()._get_validation_exclusions()
            | set(self.errors)
            | getattr(self, "said_elsewhere", set())
            | {"radio_type"}
        )
