"""Layers that an administrator puts under the map: coast, rivers, the supply area."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from sites.shapes import ShapeError, shapes_of

from .registered import Registered


class MapLayer(Registered):
    """One GeoJSON drawing (RFC 7946), as it was given, checked; drawn under sites and links."""

    name = models.CharField(_("name"), max_length=80, unique=True)
    source = models.CharField(
        _("where it comes from"), max_length=200, help_text=_("Stands on the map: whose data it is, of when.")
    )
    place = models.PositiveSmallIntegerField(
        _("place in the order"), default=10, help_text=_("The lowest is drawn first, under the others.")
    )
    shown = models.BooleanField(_("shown"), default=True)
    shapes = models.TextField(
        _("GeoJSON"),
        help_text=_(
            "Points, lines and polygons, longitude before latitude, WGS 84 (RFC 7946). At most 2 MB."
        ),
    )

    class Meta:
        verbose_name = _("map layer")
        verbose_name_plural = _("map layers")
        ordering = ["place", "name"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(name=""),
                name="layer_name_given",
                violation_error_message=_("A layer needs a name."),
            )
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        try:
            shapes_of(self.shapes)
        except ShapeError as error:
            raise ValidationError({"shapes": str(error)}) from error
