"""Forms for channel plans, radio types, their modes and masks."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from sites.forms.base import RegisterForm
from sites.forms.figures import KilohertzField, MegahertzField, PairsField, PowerField
from spectrum.models import ChannelPlan, RadioMask, RadioMode, RadioType


class ChannelPlanForm(RegisterForm):
    stored_as = {
        "first_go_mhz": "first_go_hz",
        "spacing_khz": "spacing_hz",
        "channel_width_khz": "channel_width_hz",
        "duplex_spacing_mhz": "duplex_spacing_hz",
    }
    sections = (
        (_("Plan"), ("code", "name", "source")),
        (
            _("Raster"),
            ("first_go_mhz", "spacing_khz", "channel_width_khz", "channel_count", "duplex_spacing_mhz"),
        ),
    )

    first_go_mhz = MegahertzField(label=_("go frequency of channel 1 (MHz)"))
    spacing_khz = KilohertzField(label=_("channel spacing (kHz)"))
    channel_width_khz = KilohertzField(label=_("channel width (kHz)"))
    duplex_spacing_mhz = MegahertzField(
        label=_("duplex spacing (MHz)"),
        help_text=_(
            "Return minus go; negative when the return half is the lower one, 0 for one-frequency plans."
        ),
    )

    class Meta(RegisterForm.Meta):
        model = ChannelPlan
        fields = ["code", "name", "channel_count", "source"]


class RadioTypeForm(RegisterForm):
    power_min_dbm = PowerField(label=_("lowest power"), help_text=_("30 dBm or 1 W."))
    power_max_dbm = PowerField(label=_("highest power"), help_text=_("40 dBm or 10 W."))
    sections = (
        (_("Radio"), ("name", "tuning_min_mhz", "tuning_max_mhz")),
        (
            _("Transmitter"),
            ("power_min_dbm", "power_max_dbm", "power_step_db", "transmitter_noise_dbc_per_hz"),
        ),
        (_("Receiver"), ("noise_figure_db", "blocking_level_dbm", "third_order_intercept_dbm")),
        (_("Besides"), ("notes",)),
    )

    class Meta(RegisterForm.Meta):
        model = RadioType
        fields = [
            "name",
            "tuning_min_mhz",
            "tuning_max_mhz",
            "power_min_dbm",
            "power_max_dbm",
            "power_step_db",
            "noise_figure_db",
            "blocking_level_dbm",
            "transmitter_noise_dbc_per_hz",
            "third_order_intercept_dbm",
            "notes",
        ]
        help_texts = {
            "blocking_level_dbm": _("Level at the receiver's input, at the duplex spacing, that it bears."),
            "transmitter_noise_dbc_per_hz": _("From the data sheet, for example -150. Empty: not known."),
            "third_order_intercept_dbm": _("At the receiver's input. Empty: not known."),
        }


class RadioModeForm(RegisterForm):
    stored_as = {"channel_width_khz": "channel_width_hz", "occupied_bandwidth_khz": "occupied_bandwidth_hz"}
    sections = (
        (_("Mode"), ("label", "channel_width_khz", "emission_designator", "occupied_bandwidth_khz")),
        (_("What it carries"), ("modulation", "code_rate", "bit_rate_kbps", "one_way_delay_ms")),
        (_("Receiver"), ("receiver_threshold_dbm", "required_ci_db")),
    )

    channel_width_khz = KilohertzField(label=_("channel width (kHz)"))
    occupied_bandwidth_khz = KilohertzField(label=_("occupied bandwidth (kHz)"))

    class Meta(RegisterForm.Meta):
        model = RadioMode
        fields = [
            "label",
            "emission_designator",
            "modulation",
            "code_rate",
            "bit_rate_kbps",
            "one_way_delay_ms",
            "receiver_threshold_dbm",
            "required_ci_db",
        ]
        help_texts = {"emission_designator": _("As in RR Appendix 1, for example 11K0F1D.")}


class RadioMaskForm(RegisterForm):
    stored_as = {"channel_width_khz": "channel_width_hz"}

    channel_width_khz = KilohertzField(label=_("channel width (kHz)"))
    points = PairsField(
        label=_("mask"),
        help_text=(
            _(
                "One row a line: offset from the centre in kHz, level in dB relative to the in-channel density. "
                "For example 12.5 -60."
            )
        ),
    )

    class Meta(RegisterForm.Meta):
        model = RadioMask
        fields = ["kind", "points", "source"]
