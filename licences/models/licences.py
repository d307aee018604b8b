"""Licences: the paper that allows transmission, and its dates."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models import Registered

from .authorities import Authority
from .holders import Holder


class Licence(Registered):
    """A licence. Whether it is in force follows from its dates (licences.standing), not from a field."""

    authority = models.ForeignKey(Authority, on_delete=models.PROTECT, related_name="licences")
    number = models.CharField(max_length=60)
    holder = models.ForeignKey(Holder, on_delete=models.PROTECT, related_name="licences")
    responsible = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="licences",
        help_text="Gets the reminders.",
    )
    service = models.CharField("service or licence class", max_length=120, blank=True)
    granted_on = models.DateField("granted")
    in_force_from = models.DateField("in force from")
    bring_into_use_by = models.DateField("bring into use by", null=True, blank=True)
    brought_into_use_on = models.DateField("brought into use", null=True, blank=True)
    expires_on = models.DateField(
        "expires (last day of validity)", null=True, blank=True, help_text="Empty: no fixed end."
    )
    renewal_filed_on = models.DateField("renewal filed", null=True, blank=True)
    ended_on = models.DateField("surrendered or cancelled", null=True, blank=True)
    ended_why = models.CharField(max_length=200, blank=True)
    yearly_fee = models.DecimalField("yearly fee", max_digits=12, decimal_places=2, null=True, blank=True)
    fee_currency = models.CharField(max_length=3, blank=True)
    source = models.CharField(
        max_length=120, blank=True, help_text="Where the entry came from, when it was imported."
    )
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["authority__code", "number"]
        indexes = [models.Index(fields=["expires_on"], name="licence_expiry")]
        constraints = [
            models.UniqueConstraint(
                fields=["authority", "number"],
                name="licence_number_once",
                violation_error_message="This authority's licence number is in the register already.",
            ),
            models.CheckConstraint(
                condition=~Q(number=""),
                name="licence_number_given",
                violation_error_message="A licence needs a number.",
            ),
            models.CheckConstraint(
                condition=Q(in_force_from__gte=F("granted_on")),
                name="licence_in_force_after_grant",
                violation_error_message="A licence cannot be in force before it was granted.",
            ),
            models.CheckConstraint(
                condition=Q(expires_on__isnull=True) | Q(expires_on__gte=F("in_force_from")),
                name="licence_expiry_after_start",
                violation_error_message="The expiry date must not lie before the first day in force.",
            ),
            models.CheckConstraint(
                condition=Q(bring_into_use_by__isnull=True) | Q(bring_into_use_by__gte=F("granted_on")),
                name="licence_use_after_grant",
                violation_error_message="The bring-into-use date must not lie before the grant.",
            ),
            models.CheckConstraint(
                condition=Q(yearly_fee__isnull=True) | Q(yearly_fee__gte=0),
                name="licence_fee_not_negative",
                violation_error_message="The yearly fee cannot be negative.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.authority.code} {self.number}"
