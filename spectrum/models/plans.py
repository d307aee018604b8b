"""Channel plans: rasters with width, spacing and duplex spacing."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.models import Registered


class ChannelPlan(Registered):
    """A raster of frequency pairs. Channel n: go = first go + (n − 1) · spacing, return = go + duplex spacing."""

    code = models.CharField(_("code"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=120)
    first_go_hz = models.BigIntegerField(_("go frequency of channel 1 (Hz)"))
    spacing_hz = models.PositiveIntegerField(_("channel spacing (Hz)"))
    channel_width_hz = models.PositiveIntegerField(_("channel width (Hz)"))
    channel_count = models.PositiveIntegerField(_("number of channels"))
    duplex_spacing_hz = models.BigIntegerField(
        _("duplex spacing (Hz)"),
        help_text=_(
            "Return minus go; negative when the return half is the lower one, 0 for one-frequency plans."
        ),
    )
    source = models.CharField(_("document that sets the plan"), max_length=200, blank=True)

    class Meta:
        verbose_name = _("channel plan")
        verbose_name_plural = _("channel plans")
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(first_go_hz__gt=0),
                name="plan_first_positive",
                violation_error_message=_("The first go frequency must be positive."),
            ),
            models.CheckConstraint(
                condition=Q(spacing_hz__gt=0, channel_width_hz__gt=0),
                name="plan_widths_positive",
                violation_error_message=_("Spacing and channel width must be positive."),
            ),
            models.CheckConstraint(
                condition=Q(channel_count__gte=1, channel_count__lte=20000),
                name="plan_count_in_range",
                violation_error_message=_("A plan has 1 to 20000 channels."),
            ),
            models.CheckConstraint(
                condition=~Q(code=""),
                name="plan_code_given",
                violation_error_message=_("A channel plan needs a code."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def pair_hz(self, number: int) -> tuple[int, int]:
        """Go and return frequency of channel ``number`` (1 to channel_count), in Hz."""
        if not 1 <= number <= self.channel_count:
            raise ValueError(
                gettext("Channel {number} is not in {code}; it has channels 1 to {channel_count}.").format(
                    number=number, code=self.code, channel_count=self.channel_count
                )
            )
        go = self.first_go_hz + (number - 1) * self.spacing_hz
        return go, go + self.duplex_spacing_hz
