"""Holders of licences: our own company and the others one must not disturb."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from sites.models import Registered


class Holder(Registered):
    """Who holds a licence."""

    name = models.CharField(max_length=200, unique=True)
    own = models.BooleanField("our own", default=False)
    contact_email = models.EmailField(blank=True)
    contact_phone = models.CharField(max_length=40, blank=True)
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(name=""),
                name="holder_name_given",
                violation_error_message="A holder needs a name.",
            )
        ]

    def __str__(self) -> str:
        return self.name
