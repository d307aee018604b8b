"""Licences: the paper that allows transmission, and its dates."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from licences.life import Life
from licences.life.records import FIELDS
from licences.standing import Ending
from sites.models import Registered
from sites.models.documents import documents_of_it
from sites.saying import when_read
from sites.sentences import sentence
from sites.words import gettext_noop

from .applications import Application
from .authorities import Authority
from .holders import Holder

ENDINGS = [
    (Ending.SURRENDERED.value, _("surrendered")),
    (Ending.CANCELLED.value, _("cancelled by the authority")),
    (Ending.LAPSED.value, _("lapsed for an unpaid fee")),
    (Ending.REFUSED.value, _("renewal refused")),
]


class Licence(Registered):
    """A licence. Whether it is in force follows from its dates (licences.standing), not from a field.

    The dates are those after its last step (licences.life); what a step has set only a step changes.
    """

    class Renewal(models.TextChoices):
        AS_AUTHORITY = "", _("as the authority's terms say")
        NOT_RENEWABLE = "not_renewable", _("not renewable")
        ON_CONDITIONS = "on_conditions", _("on conditions")

    class WhileUndecided(models.TextChoices):
        AS_AUTHORITY = "", _("as the authority's terms say")
        CONTINUES = "continues", _("stays in force until it is decided")
        ENDS = "ends", _("ends on its last day")

    authority = models.ForeignKey(
        Authority, on_delete=models.PROTECT, related_name="licences", verbose_name=_("authority")
    )
    number = models.CharField(_("number"), max_length=60)
    holder = models.ForeignKey(
        Holder, on_delete=models.PROTECT, related_name="licences", verbose_name=_("holder")
    )
    application = models.ForeignKey(
        Application,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        editable=False,
        related_name="licences",
        help_text=_("The application that this licence was granted on."),
        verbose_name=_("application"),
    )
    responsible = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="licences",
        help_text=_("Gets the reminders."),
        verbose_name=_("responsible"),
    )
    service = models.CharField(_("service or licence class"), max_length=120, blank=True)
    applied_on = models.DateField(_("applied for"), null=True, blank=True)
    granted_on = models.DateField(
        _("granted"), null=True, blank=True, help_text=_("Empty: applied for and not granted yet.")
    )
    in_force_from = models.DateField(_("in force from"), null=True, blank=True)
    bring_into_use_by = models.DateField(_("bring into use by"), null=True, blank=True)
    brought_into_use_on = models.DateField(_("brought into use"), null=True, blank=True)
    use_notice_by = models.DateField(_("notice of use by"), null=True, blank=True)
    use_notified_on = models.DateField(_("use notified"), null=True, blank=True)
    expires_on = models.DateField(
        _("expires (last day of validity)"), null=True, blank=True, help_text=_("Empty: no fixed end.")
    )
    renewal_filed_on = models.DateField(_("renewal filed"), null=True, blank=True)
    renewal = models.CharField(
        _("renewable"), max_length=14, choices=Renewal.choices, blank=True, default=Renewal.AS_AUTHORITY
    )
    renewal_conditions = models.CharField(_("conditions of a renewal"), max_length=300, blank=True)
    while_undecided = models.CharField(
        _("past its last day, while a renewal filed in time is undecided"),
        max_length=10,
        choices=WhileUndecided.choices,
        blank=True,
        default=WhileUndecided.AS_AUTHORITY,
    )
    let_expire_on = models.DateField(_("decided to let it expire"), null=True, blank=True)
    ended_on = models.DateField(_("first day without it"), null=True, blank=True)
    ended_how = models.CharField(_("how it ended"), max_length=12, choices=ENDINGS, blank=True)
    ended_why = models.CharField(_("ended why"), max_length=200, blank=True)
    yearly_fee = models.DecimalField(_("yearly fee"), max_digits=12, decimal_places=2, null=True, blank=True)
    fee_currency = models.CharField(_("fee currency"), max_length=3, blank=True)
    fee_due_on = models.DateField(_("next fee due"), null=True, blank=True)
    source = models.CharField(
        _("source"),
        max_length=120,
        blank=True,
        help_text=_("Where the entry came from, when it was imported."),
    )
    notes = models.TextField(_("notes"), blank=True)

    documents = documents_of_it()

    class Meta:
        verbose_name = _("licence")
        verbose_name_plural = _("licences")
        ordering = ["authority__code", "number"]
        indexes = [models.Index(fields=["expires_on"], name="licence_expiry")]
        constraints = [
            models.UniqueConstraint(
                fields=["authority", "number"],
                name="licence_number_once",
                violation_error_message=_("This authority's licence number is in the register already."),
            ),
            models.CheckConstraint(
                condition=~Q(number=""),
                name="licence_number_given",
                violation_error_message=_("A licence needs a number."),
            ),
            models.CheckConstraint(
                condition=Q(in_force_from__gte=F("granted_on")),
                name="licence_in_force_after_grant",
                violation_error_message=_("A licence cannot be in force before it was granted."),
            ),
            models.CheckConstraint(
                condition=Q(expires_on__isnull=True) | Q(expires_on__gte=F("in_force_from")),
                name="licence_expiry_after_start",
                violation_error_message=_("The expiry date must not lie before the first day in force."),
            ),
            models.CheckConstraint(
                condition=Q(bring_into_use_by__isnull=True) | Q(bring_into_use_by__gte=F("granted_on")),
                name="licence_use_after_grant",
                violation_error_message=_("The bring-into-use date must not lie before the grant."),
            ),
            models.CheckConstraint(
                condition=Q(granted_on__isnull=False, in_force_from__isnull=False)
                | Q(granted_on__isnull=True, in_force_from__isnull=True, applied_on__isnull=False),
                name="licence_applied_or_granted",
                violation_error_message=_(
                    "A licence is granted and has its first day in force, or it is applied for: give the day "
                    "of the grant with the first day in force, or the day of the application."
                ),
            ),
            models.CheckConstraint(
                condition=Q(ended_how="") | Q(ended_on__isnull=False),
                name="licence_end_has_a_day",
                violation_error_message=_("How it ended is given: give its first day without it too."),
            ),
            models.CheckConstraint(
                condition=Q(yearly_fee__isnull=True) | Q(yearly_fee__gte=0),
                name="licence_fee_not_negative",
                violation_error_message=_("The yearly fee cannot be negative."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.authority.code} {self.number}"

    @property
    def life(self) -> Life:
        """Its dates for the rules of licences.life."""
        return Life(**{name: getattr(self, name) for name in FIELDS})

    def clean(self) -> None:
        """A date that a step has set stands as that step left it; another step changes it."""
        if self._state.adding:
            return
        problems: dict[str, Any] = {}
        for event in self.events.filter(channel=None).order_by("pk"):
            for name, (_before, after) in event.changes.items():
                value = getattr(self, name)
                as_stored = value.isoformat() if hasattr(value, "isoformat") else value
                problems.pop(name, None)
                if as_stored != after:
                    problems[name] = when_read(
                        sentence(
                            gettext_noop(
                                "This was set to {value} by the step “{step}” of {day}. "
                                "Enter a step, or the correction of the record, on the licence's page."
                            ),
                            value=after or sentence(gettext_noop("empty")),
                            step=event.get_step_display(),
                            day=event.on,
                        )
                    )
        if problems:
            raise ValidationError(
                {("holder" if name == "holder_id" else name): text for name, text in problems.items()}
            )
