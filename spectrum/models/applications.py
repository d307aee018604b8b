"""Which links an application is for, and what was filed of each of their stations."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.models import Application, LicensedChannel
from sites.models import Registered

from .links import Link, Station


class ApplicationLink(Registered):
    """A link that an application is for. ``report`` is what was known of its conflicts when it was filed."""

    application = models.ForeignKey(
        Application, verbose_name=_("application"), on_delete=models.CASCADE, related_name="links"
    )
    link = models.ForeignKey(
        Link, verbose_name=_("link"), on_delete=models.PROTECT, related_name="applied_for"
    )
    report = models.JSONField(
        _("report of conflicts as filed"), null=True, default=None, blank=True, editable=False
    )

    class Meta:
        verbose_name = _("application link")
        verbose_name_plural = _("application links")
        ordering = ["application", "id"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(
                fields=["application", "link"],
                name="application_link_once",
                violation_error_message=_("This link is in the application already."),
            )
        ]

    def __str__(self) -> str:
        return gettext("{link} in {application}").format(
            link=self.link.code, application=self.application.number
        )


class FiledStation(Registered):
    """What was filed of one transmitting station, kept as it was on that day, and the channel that was granted for it.

    ``figures`` are those of ``spectrum.filing.figures.StationFigures``.
    """

    application_link = models.ForeignKey(
        ApplicationLink, verbose_name=_("application link"), on_delete=models.PROTECT, related_name="filed"
    )
    station = models.ForeignKey(
        Station,
        verbose_name=_("station"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="filed",
    )
    label = models.CharField(_("station"), max_length=20)
    figures = models.JSONField(_("figures"))
    licensed_channel = models.ForeignKey(
        LicensedChannel,
        verbose_name=_("licensed channel"),
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="filed",
    )

    class Meta:
        verbose_name = _("filed station")
        verbose_name_plural = _("filed stations")
        ordering = ["application_link", "id"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(
                fields=["application_link", "label"],
                name="filed_station_once",
                violation_error_message=_("This station was filed already."),
            )
        ]

    def __str__(self) -> str:
        return gettext("{link}/{label} as filed in {application}").format(
            link=self.application_link.link.code,
            label=self.label,
            application=self.application_link.application.number,
        )
