"""Radio types, their modes and masks."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from licences.emissions import EmissionFormatError, parse
from sites.models import Registered
from sites.refusals import RefusalError
from sites.saying import when_read
from sites.sentences import sentence
from sites.words import gettext_noop


class RadioType(Registered):
    """A type of radio: what it can be tuned and set to."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    tuning_min_mhz = models.FloatField(_("tunes from (MHz)"))
    tuning_max_mhz = models.FloatField(_("tunes to (MHz)"))
    power_min_dbm = models.FloatField(_("lowest power (dBm)"))
    power_max_dbm = models.FloatField(_("highest power (dBm)"))
    power_step_db = models.FloatField(_("power step (dB)"), default=1.0)
    noise_figure_db = models.FloatField(_("noise figure (dB)"), default=7.0)
    blocking_level_dbm = models.FloatField(_("blocking level (dBm)"), null=True, blank=True)
    transmitter_noise_dbc_per_hz = models.FloatField(
        _("transmitter noise at the duplex spacing (dBc/Hz)"), null=True, blank=True
    )
    third_order_intercept_dbm = models.FloatField(
        _("third-order intercept of the receiver (dBm)"), null=True, blank=True
    )
    notes = models.TextField(_("notes"), blank=True)

    class Meta:
        verbose_name = _("radio type")
        verbose_name_plural = _("radio types")
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(tuning_min_mhz__gt=0, tuning_max_mhz__gte=F("tuning_min_mhz")),
                name="radio_tuning_range",
                violation_error_message=_("The tuning range must be positive, lowest first."),
            ),
            models.CheckConstraint(
                condition=Q(power_max_dbm__gte=F("power_min_dbm")),
                name="radio_power_range",
                violation_error_message=_("The highest power must not be below the lowest."),
            ),
            models.CheckConstraint(
                condition=Q(power_step_db__gt=0),
                name="radio_power_step",
                violation_error_message=_("The power step must be positive."),
            ),
            models.CheckConstraint(
                condition=Q(noise_figure_db__gte=0, noise_figure_db__lte=40),
                name="radio_noise_figure",
                violation_error_message=_("The noise figure must lie between 0 and 40 dB."),
            ),
            models.CheckConstraint(
                condition=Q(blocking_level_dbm__isnull=True)
                | Q(blocking_level_dbm__gte=-120, blocking_level_dbm__lte=40),
                name="radio_blocking_level",
                violation_error_message=_("The blocking level must lie between -120 and 40 dBm."),
            ),
            models.CheckConstraint(
                condition=Q(transmitter_noise_dbc_per_hz__isnull=True)
                | Q(transmitter_noise_dbc_per_hz__gte=-220, transmitter_noise_dbc_per_hz__lte=-40),
                name="radio_transmitter_noise",
                violation_error_message=_("Transmitter noise must lie between -220 and -40 dBc/Hz."),
            ),
            models.CheckConstraint(
                condition=Q(third_order_intercept_dbm__isnull=True)
                | Q(third_order_intercept_dbm__gte=-80, third_order_intercept_dbm__lte=80),
                name="radio_third_order_intercept",
                violation_error_message=_("The intercept point must lie between -80 and 80 dBm."),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class RadioMode(Registered):
    """One way a radio can be run: width, emission, modulation, threshold."""

    radio_type = models.ForeignKey(
        RadioType, verbose_name=_("radio type"), on_delete=models.CASCADE, related_name="modes"
    )
    label = models.CharField(_("label"), max_length=60)
    channel_width_hz = models.PositiveIntegerField(_("channel width (Hz)"))
    emission_designator = models.CharField(_("emission designator"), max_length=11)
    occupied_bandwidth_hz = models.PositiveIntegerField(_("occupied bandwidth (Hz)"))
    modulation = models.CharField(_("modulation"), max_length=20)
    code_rate = models.FloatField(_("code rate"), default=1.0)
    bit_rate_kbps = models.FloatField(_("bit rate (kbit/s)"))
    receiver_threshold_dbm = models.FloatField(
        _("receiver threshold (dBm)"),
        help_text=_("At a bit error ratio of 1e-6 unless the notes say otherwise."),
    )
    required_ci_db = models.FloatField(_("required C/I, co-channel (dB)"))
    one_way_delay_ms = models.FloatField(_("one-way delay (ms)"), default=10.0)

    class Meta:
        verbose_name = _("radio mode")
        verbose_name_plural = _("radio modes")
        ordering = ["radio_type__name", "channel_width_hz", "bit_rate_kbps"]
        constraints = [
            models.UniqueConstraint(
                fields=["radio_type", "label"],
                name="mode_label_once",
                violation_error_message=_("This radio has a mode with that label already."),
            ),
            models.CheckConstraint(
                condition=Q(channel_width_hz__gt=0, occupied_bandwidth_hz__gt=0),
                name="mode_widths_positive",
                violation_error_message=_("Channel width and occupied bandwidth must be positive."),
            ),
            models.CheckConstraint(
                condition=Q(code_rate__gt=0, code_rate__lte=1),
                name="mode_code_rate",
                violation_error_message=_("The code rate must lie above 0 and be at most 1."),
            ),
            models.CheckConstraint(
                condition=Q(bit_rate_kbps__gt=0),
                name="mode_bit_rate_positive",
                violation_error_message=_("The bit rate must be positive."),
            ),
            models.CheckConstraint(
                condition=Q(one_way_delay_ms__gte=0),
                name="mode_delay_not_negative",
                violation_error_message=_("The delay cannot be negative."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.radio_type} {self.label}"

    def clean(self) -> None:
        try:
            parse(self.emission_designator)
        except EmissionFormatError as error:
            raise ValidationError({"emission_designator": when_read(error.written)}) from error


class RadioMask(Registered):
    """A piecewise linear mask of a radio at one channel width: what it emits, or what it lets in."""

    class Kind(models.TextChoices):
        EMISSION = "emission", _("emission mask")
        SELECTIVITY = "selectivity", _("receiver selectivity")

    radio_type = models.ForeignKey(
        RadioType, verbose_name=_("radio type"), on_delete=models.CASCADE, related_name="masks"
    )
    channel_width_hz = models.PositiveIntegerField(_("channel width (Hz)"))
    kind = models.CharField(_("kind"), max_length=12, choices=Kind.choices)
    points = models.JSONField(
        _("points"),
        help_text=_(
            "Rows of [offset from the centre in kHz, level relative to the in-channel density in dB]."
        ),
    )
    source = models.CharField(_("where the figures come from"), max_length=200)

    class Meta:
        verbose_name = _("radio mask")
        verbose_name_plural = _("radio masks")
        ordering = ["radio_type__name", "channel_width_hz", "kind"]
        constraints = [
            models.UniqueConstraint(
                fields=["radio_type", "channel_width_hz", "kind"],
                name="mask_once",
                violation_error_message=_("This radio has that mask for this width already."),
            ),
            models.CheckConstraint(
                condition=Q(channel_width_hz__gt=0),
                name="mask_width_positive",
                violation_error_message=_("The channel width must be positive."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.radio_type} {self.get_kind_display()} {self.channel_width_hz / 1e3:g} kHz"

    def clean(self) -> None:
        from spectrum.radio.masks import Mask

        try:
            Mask.from_points(self.points)
        except (ValueError, TypeError) as error:
            raise ValidationError(
                {
                    "points": when_read(
                        sentence(
                            gettext_noop(
                                "{error} Rows such as [[0, 0], [6.25, 0], [12.5, -60]] were expected."
                            ),
                            error=error.written if isinstance(error, RefusalError) else str(error),
                        )
                    )
                }
            ) from error
