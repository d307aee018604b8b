"""Links and their stations."""

from __future__ import annotations

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from licences.models import Holder, LicensedChannel
from licences.models.channels import POLARISATIONS
from sites.lazily import Words
from sites.models import AntennaType, Registered, Site
from sites.models.documents import documents_of_it
from sites.saying import when_read, written
from sites.sentences import sentence
from sites.words import gettext_noop

from .plans import ChannelPlan
from .radios import RadioMode, RadioType


class Link(Registered):
    """Stations that talk to each other. A link that is not yet on the air holds its pair until a date."""

    class Kind(models.TextChoices):
        POINT_TO_POINT = "ptp", _("point-to-point")
        POINT_TO_MULTIPOINT = "ptmp", _("point-to-multipoint")

    class Status(models.TextChoices):
        PLANNED = "planned", _("planned")
        FILED = "filed", _("filed with the authority")
        GRANTED = "granted", _("granted, not yet on the air")
        ON_AIR = "on_air", _("on the air")
        LAPSED = "lapsed", _("reservation lapsed")
        RETIRED = "retired", _("retired")

    # What holds or uses its frequencies, and so counts in a check.
    LIVE = (Status.PLANNED, Status.FILED, Status.GRANTED, Status.ON_AIR)
    RESERVING = (Status.PLANNED, Status.FILED)

    code = models.CharField(_("code"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=160, blank=True)
    kind = models.CharField(_("kind"), max_length=5, choices=Kind.choices, default=Kind.POINT_TO_POINT)
    holder = models.ForeignKey(
        Holder, verbose_name=_("holder"), on_delete=models.PROTECT, related_name="links"
    )
    status = models.CharField(
        _("status"), max_length=8, choices=Status.choices, default=Status.PLANNED, db_index=True
    )
    channel_plan = models.ForeignKey(
        ChannelPlan,
        verbose_name=_("channel plan"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="links",
    )
    starts_on = models.DateField(
        _("on the air from"), null=True, blank=True, help_text=_("Planned or actual. Empty: at once.")
    )
    ends_on = models.DateField(
        _("last day on the air"), null=True, blank=True, help_text=_("Empty: no end planned.")
    )
    reserved_until = models.DateField(_("pair reserved until"), null=True, blank=True)
    responsible = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        verbose_name=_("responsible"),
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="links",
    )
    required_bit_rate_kbps = models.FloatField(
        _("bit rate the service needs (kbit/s)"), null=True, blank=True
    )
    required_round_trip_ms = models.FloatField(_("round trip the service needs (ms)"), null=True, blank=True)
    assumptions = models.TextField(
        _("assumptions"),
        blank=True,
        help_text=_("What is assumed, not known, about this link – for example another party's antenna."),
    )
    notes = models.TextField(_("notes"), blank=True)

    documents = documents_of_it()

    class Meta:
        verbose_name = _("link")
        verbose_name_plural = _("links")
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(code=""),
                name="link_code_given",
                violation_error_message=_("A link needs a code."),
            ),
            models.CheckConstraint(
                condition=Q(starts_on__isnull=True)
                | Q(ends_on__isnull=True)
                | Q(ends_on__gte=F("starts_on")),
                name="link_dates_in_order",
                violation_error_message=_("The last day on the air must not lie before the first."),
            ),
            models.CheckConstraint(
                condition=Q(required_bit_rate_kbps__isnull=True) | Q(required_bit_rate_kbps__gt=0),
                name="link_bit_rate_positive",
                violation_error_message=_("The bit rate must be positive."),
            ),
        ]
        permissions = [
            ("check_network", "Can have the whole network checked"),
            ("what_others_hold", "Can edit other parties' links"),
            ("attach_link", "Can attach documents to a link without changing it"),
        ]

    def __str__(self) -> str:
        return self.code


class Station(Registered):
    """One radio at a site (RR 1.61): antenna, feeder, duplexer, what it sends and what it hears."""

    class Role(models.TextChoices):
        A = "a", _("end A")
        B = "b", _("end B")
        HUB = "hub", _("hub")
        REMOTE = "remote", _("remote")

    link = models.ForeignKey(Link, verbose_name=_("link"), on_delete=models.CASCADE, related_name="stations")
    role = models.CharField(_("role"), max_length=6, choices=Role.choices)
    label = models.CharField(
        _("label"), max_length=20, help_text=_("Unique within the link: A, B, hub, or a remote's number.")
    )
    site = models.ForeignKey(Site, verbose_name=_("site"), on_delete=models.PROTECT, related_name="stations")
    antenna_type = models.ForeignKey(
        AntennaType, verbose_name=_("antenna type"), on_delete=models.PROTECT, related_name="stations"
    )
    antenna_height_agl_m = models.FloatField(_("antenna height above ground (m)"))
    azimuth_deg = models.FloatField(
        _("azimuth (degrees from true north)"),
        null=True,
        blank=True,
        help_text=_("Empty: toward the other end."),
    )
    tilt_deg = models.FloatField(
        _("tilt (degrees, up is positive)"),
        null=True,
        blank=True,
        help_text=_("Empty: toward the other end."),
    )
    polarisation = models.CharField(_("polarisation"), max_length=1, choices=POLARISATIONS, default="V")
    feeder_loss_db = models.FloatField(_("feeder loss (dB)"), default=0.0)
    duplexer_loss_db = models.FloatField(_("duplexer loss (dB)"), default=0.0)
    duplexer_isolation_db = models.FloatField(_("duplexer isolation (dB)"), null=True, blank=True)
    antenna_spacing_m = models.FloatField(
        _("horizontal spacing of separate antennas (m)"), null=True, blank=True
    )
    antenna_spacing_vertical_m = models.FloatField(
        _("vertical spacing of separate antennas (m)"), null=True, blank=True
    )
    radio_type = models.ForeignKey(
        RadioType, verbose_name=_("radio type"), on_delete=models.PROTECT, related_name="stations"
    )
    mode = models.ForeignKey(
        RadioMode, verbose_name=_("mode"), on_delete=models.PROTECT, related_name="stations"
    )
    tx_power_dbm = models.FloatField(_("transmitter output power (dBm)"), null=True, blank=True)
    tx_frequency_hz = models.BigIntegerField(_("transmit frequency (Hz)"), null=True, blank=True)
    rx_frequency_hz = models.BigIntegerField(_("receive frequency (Hz)"), null=True, blank=True)
    licensed_channel = models.ForeignKey(
        LicensedChannel,
        verbose_name=_("licensed channel"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="stations",
        help_text=_("The assignment that allows this station to transmit."),
    )

    class Meta:
        verbose_name = _("station")
        verbose_name_plural = _("stations")
        ordering = ["link", "label"]
        indexes = [
            models.Index(fields=["tx_frequency_hz"], name="station_tx_frequency"),
            models.Index(fields=["rx_frequency_hz"], name="station_rx_frequency"),
            # Whoever could disturb a link is looked up by a window of frequencies for each mode.
            models.Index(fields=["mode", "tx_frequency_hz"], name="station_mode_tx"),
            models.Index(fields=["mode", "rx_frequency_hz"], name="station_mode_rx"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["link", "label"],
                name="station_label_once",
                violation_error_message=_("This link has a station with that label already."),
            ),
            models.CheckConstraint(
                condition=Q(tx_frequency_hz__isnull=False) | Q(rx_frequency_hz__isnull=False),
                name="station_some_frequency",
                violation_error_message=_("A station needs a transmit or a receive frequency."),
            ),
            models.CheckConstraint(
                condition=Q(tx_frequency_hz__isnull=True) | Q(tx_frequency_hz__gt=0),
                name="station_tx_positive",
                violation_error_message=_("The transmit frequency must be positive."),
            ),
            models.CheckConstraint(
                condition=Q(rx_frequency_hz__isnull=True) | Q(rx_frequency_hz__gt=0),
                name="station_rx_positive",
                violation_error_message=_("The receive frequency must be positive."),
            ),
            models.CheckConstraint(
                condition=Q(tx_frequency_hz__isnull=True) | Q(tx_power_dbm__isnull=False),
                name="station_tx_has_power",
                violation_error_message=_("A station that transmits needs its output power."),
            ),
            models.CheckConstraint(
                condition=Q(tx_power_dbm__isnull=True) | Q(tx_power_dbm__gte=-60, tx_power_dbm__lte=100),
                name="station_power_in_range",
                violation_error_message=_("Power must lie between -60 and 100 dBm."),
            ),
            models.CheckConstraint(
                condition=Q(antenna_height_agl_m__gte=0, antenna_height_agl_m__lte=900),
                name="station_height_in_range",
                violation_error_message=_("Antenna height must lie between 0 and 900 m above ground."),
            ),
            models.CheckConstraint(
                condition=Q(azimuth_deg__isnull=True) | Q(azimuth_deg__gte=0, azimuth_deg__lt=360),
                name="station_azimuth_in_range",
                violation_error_message=_("The azimuth must lie from 0 to below 360 degrees."),
            ),
            models.CheckConstraint(
                condition=Q(tilt_deg__isnull=True) | Q(tilt_deg__gte=-90, tilt_deg__lte=90),
                name="station_tilt_in_range",
                violation_error_message=_("The tilt must lie between -90 and 90 degrees."),
            ),
            models.CheckConstraint(
                condition=Q(feeder_loss_db__gte=0, duplexer_loss_db__gte=0),
                name="station_losses_not_negative",
                violation_error_message=_("Losses cannot be negative."),
            ),
            models.CheckConstraint(
                condition=(Q(duplexer_isolation_db__isnull=True) | Q(duplexer_isolation_db__gte=0))
                & (Q(antenna_spacing_m__isnull=True) | Q(antenna_spacing_m__gte=0))
                & (Q(antenna_spacing_vertical_m__isnull=True) | Q(antenna_spacing_vertical_m__gte=0)),
                name="station_isolation_not_negative",
                violation_error_message=_("Isolation and spacings cannot be negative."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.link.code}/{self.label}"

    def clean(self) -> None:
        problems: dict[str, Words] = {}
        if self.mode_id and self.radio_type_id and self.mode.radio_type_id != self.radio_type_id:
            problems["mode"] = when_read(
                sentence(
                    gettext_noop("{mode} is a mode of {its_radio}, not of {radio}."),
                    mode=self.mode.label,
                    its_radio=self.mode.radio_type,
                    radio=self.radio_type,
                )
            )
        if self.link_id:
            ends = (
                {self.Role.A, self.Role.B}
                if self.link.kind == Link.Kind.POINT_TO_POINT
                else {self.Role.HUB, self.Role.REMOTE}
            )
            if self.role not in ends:
                one, other = sorted(str(self.Role(e).label) for e in ends)
                problems["role"] = when_read(
                    sentence(
                        gettext_noop("A {kind} link has stations of the role {one} or {other}."),
                        kind=written(Link.Kind(self.link.kind).label),
                        one=one,
                        other=other,
                    )
                )
        if problems:
            raise ValidationError(problems)
