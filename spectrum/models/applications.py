"""Which links an application is for, and what was filed of each of their stations."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from licences.models import Application, LicensedChannel
from sites.models import Registered

from .links import Link, Station


class ApplicationLink(Registered):
    """A link that an application is for. ``report`` is what was known of its conflicts when it was filed."""

    application = models.ForeignKey(Application, on_delete=models.CASCADE, related_name="links")
    link = models.ForeignKey(Link, on_delete=models.PROTECT, related_name="applied_for")
    report = models.JSONField(
        _("report of conflicts as filed"), null=True, default=None, blank=True, editable=False
    )

    class Meta:
        ordering = ["application", "id"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(
                fields=["application", "link"],
                name="application_link_once",
                violation_error_message="This link is in the application already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.link.code} in {self.application.number}"


class FiledStation(Registered):
    """What was filed of one transmitting station, kept as it was on that day, and the channel that was granted for it.

    ``figures`` are those of ``spectrum.filing.figures.StationFigures``.
    """

    application_link = models.ForeignKey(ApplicationLink, on_delete=models.PROTECT, related_name="filed")
    station = models.ForeignKey(
        Station, on_delete=models.SET_NULL, null=True, blank=True, related_name="filed"
    )
    label = models.CharField("station", max_length=20)
    figures = models.JSONField()
    licensed_channel = models.ForeignKey(
        LicensedChannel, on_delete=models.SET_NULL, null=True, blank=True, related_name="filed"
    )

    class Meta:
        ordering = ["application_link", "id"]
        default_permissions = ("view",)
        constraints = [
            models.UniqueConstraint(
                fields=["application_link", "label"],
                name="filed_station_once",
                violation_error_message="This station was filed already.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.application_link.link.code}/{self.label} as filed in {self.application_link.application.number}"
