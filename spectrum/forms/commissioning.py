"""The form of what was found at a station."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.forms.base import RegisterForm
from sites.forms.documents import FileChoice
from sites.forms.figures import KilohertzField, MegahertzField, PowerField, as_typed
from spectrum.models import CommissioningRecord


class CommissioningRecordForm(RegisterForm):
    """Frequencies in MHz, width in kHz; what was not looked at stays empty."""

    stored_as = {
        "tx_frequency_mhz": "tx_frequency_hz",
        "rx_frequency_mhz": "rx_frequency_hz",
        "channel_width_khz": "channel_width_hz",
    }
    sections = (
        (_("Who and when"), ("found_on", "found_by")),
        (
            _("Settings as found"),
            ("tx_frequency_mhz", "rx_frequency_mhz", "tx_power_dbm", "channel_width_khz", "modulation"),
        ),
        (_("Measured"), ("received_level_dbm", "isolation_db", "round_trip_ms", "throughput_kbps")),
        (_("Besides"), ("photo", "notes")),
    )

    tx_frequency_mhz = MegahertzField(label=_("transmit frequency (MHz)"), required=False)
    rx_frequency_mhz = MegahertzField(label=_("receive frequency (MHz)"), required=False)
    channel_width_khz = KilohertzField(label=_("channel width (kHz)"), required=False)
    tx_power_dbm = PowerField(label=_("output power"), required=False, help_text=_("37 dBm or 5 W."))

    photo = FileChoice(
        label=_("photo"),
        accept="image/*",
        required=False,
        help_text=_("As a phone takes it; more can follow."),
    )

    class Meta(RegisterForm.Meta):
        model = CommissioningRecord
        fields = [
            "found_on",
            "found_by",
            "tx_power_dbm",
            "modulation",
            "received_level_dbm",
            "isolation_db",
            "round_trip_ms",
            "throughput_kbps",
            "notes",
        ]

    def clean_received_level_dbm(self) -> float | None:
        """A level without its minus sign is what a hurried hand types; common practice: levels lie far below 0 dBm."""
        level: float | None = self.cleaned_data["received_level_dbm"]
        if level is not None and level > 0:
            raise ValidationError(
                gettext("“{typed}” was typed; a received level lies below 0 dBm. Is −{typed} meant?").format(
                    typed=as_typed(level).removesuffix(".0").removesuffix(",0")
                )
            )
        return level
