"""Holders of licences: our own company and the others one must not disturb."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from sites.models import Registered


class Holder(Registered):
    """Who holds a licence."""

    name = models.CharField(_("name"), max_length=200, unique=True)
    own = models.BooleanField(_("our own"), default=False)
    contact_email = models.EmailField(_("contact email"), blank=True)
    contact_phone = models.CharField(_("contact phone"), max_length=40, blank=True)
    notes = models.TextField(_("notes"), blank=True)

    class Meta:
        verbose_name = _("holder")
        verbose_name_plural = _("holders")
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(name=""),
                name="holder_name_given",
                violation_error_message=_("A holder needs a name."),
            )
        ]

    def __str__(self) -> str:
        return self.name
