"""Authorities (regulators) and how their licences are renewed."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.applying import DEFAULT_ASKED, unknown_fields
from licences.filing import FilingRule, RuleFormatError, read_rules
from licences.life import Terms
from sites.models import Registered
from sites.saying import when_read
from sites.sentences import sentence
from sites.words import gettext_noop


def default_reminder_steps() -> list[int]:
    return [90, 30, 14, 3]


def default_asked_fields() -> list[str]:
    return list(DEFAULT_ASKED)


def default_window_steps() -> list[int]:
    return [0]


def default_expiry_steps() -> list[int]:
    return []


def default_after_expiry_steps() -> list[int]:
    return [1, 14]


def default_use_steps() -> list[int]:
    return [90, 30, 7]


def default_notice_steps() -> list[int]:
    return [14, 3]


def default_fee_steps() -> list[int]:
    return [30, 7]


#: The lists of days of a policy, each with the name of what is reminded of.
STEP_FIELDS = (
    "window_steps_days",
    "reminder_steps_days",
    "expiry_steps_days",
    "after_expiry_steps_days",
    "use_steps_days",
    "notice_steps_days",
    "fee_steps_days",
)


class Authority(Registered):
    """The body that grants licences."""

    code = models.CharField(_("code"), max_length=20, unique=True)
    name = models.CharField(_("name"), max_length=120)
    country = models.CharField(_("country"), max_length=60, blank=True)
    asked_fields = models.JSONField(
        _("fields asked in an application"),
        default=default_asked_fields,
        blank=True,
        help_text=_("Which fields of the data sheet this authority asks."),
    )

    class Meta:
        verbose_name = _("authority")
        ordering = ["code"]
        verbose_name_plural = _("authorities")
        constraints = [
            models.CheckConstraint(
                condition=~Q(code=""),
                name="authority_code_given",
                violation_error_message=_("An authority needs a code."),
            )
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def clean(self) -> None:
        if problem := unknown_fields(self.asked_fields):
            raise ValidationError({"asked_fields": when_read(problem)})


class RenewalPolicy(Registered):
    """When a licence of this authority may be renewed, and when people are reminded."""

    authority = models.OneToOneField(
        Authority, on_delete=models.CASCADE, related_name="renewal_policy", verbose_name=_("authority")
    )
    window_opens_days = models.PositiveIntegerField(_("window opens (days before expiry)"), default=180)
    last_filing_days = models.IntegerField(
        _("last filing day (days before expiry)"),
        default=0,
        help_text=_("Negative where a renewal may still be filed after the expiry."),
    )
    renewable = models.BooleanField(_("licences are renewed"), default=True)
    conditions = models.CharField(_("conditions of a renewal"), max_length=300, blank=True)
    continues_while_undecided = models.BooleanField(
        _("stays in force while a renewal filed in time is undecided"),
        default=False,
        help_text=_(
            "Only where the authority's own rules say so, as 47 CFR 1.62 does; else a licence ends on its last day."
        ),
    )
    longest_term_months = models.PositiveIntegerField(
        _("longest term (months)"), null=True, blank=True, help_text=_("Empty: no limit.")
    )
    bring_into_use_months = models.PositiveIntegerField(
        _("bring into use within (months from the grant)"),
        null=True,
        blank=True,
        help_text=_("Empty: no such date."),
    )
    use_notice_days = models.PositiveIntegerField(
        _("notice of use within (days after that date)"),
        null=True,
        blank=True,
        help_text=_("Empty: no notice."),
    )
    fee_grace_days = models.PositiveIntegerField(_("days of grace for a fee"), default=30)
    reminder_steps_days = models.JSONField(
        _("reminders (days before the last filing day)"),
        default=default_reminder_steps,
        help_text=_("For example [90, 30, 14, 3]."),
    )
    window_steps_days = models.JSONField(
        _("reminders (days before the window opens)"),
        default=default_window_steps,
        blank=True,
        help_text=_("0: on the day it opens."),
    )
    expiry_steps_days = models.JSONField(
        _("reminders (days before the expiry)"), default=default_expiry_steps, blank=True
    )
    after_expiry_steps_days = models.JSONField(
        _("reminders (days after the expiry)"),
        default=default_after_expiry_steps,
        blank=True,
        help_text=_("1: on the first day without the licence."),
    )
    use_steps_days = models.JSONField(
        _("reminders (days before the bring-into-use date)"), default=default_use_steps, blank=True
    )
    notice_steps_days = models.JSONField(
        _("reminders (days before the notice of use)"), default=default_notice_steps, blank=True
    )
    fee_steps_days = models.JSONField(
        _("reminders (days before a fee is due)"), default=default_fee_steps, blank=True
    )
    escalate_after_days = models.PositiveIntegerField(
        _("managers are told after (days without acknowledgement)"),
        null=True,
        blank=True,
        default=7,
        help_text=_("Empty: never."),
    )
    unused_after_days = models.PositiveIntegerField(_("a channel counts as unused after (days)"), default=365)
    filing_rules = models.JSONField(
        _("which change needs filing"),
        default=list,
        blank=True,
        help_text=_(
            "Rules of licences.filing; what exceeds a licence needs a new grant where no rule speaks of it."
        ),
    )
    source = models.CharField(_("where these terms are published"), max_length=200, blank=True)

    class Meta:
        verbose_name = _("renewal policy")
        ordering = ["authority__code"]
        verbose_name_plural = _("renewal policies")
        constraints = [
            models.CheckConstraint(
                condition=Q(window_opens_days__gte=F("last_filing_days")),
                name="policy_window_before_last_day",
                violation_error_message=_("The window must open on or before the last filing day."),
            ),
        ]

    def __str__(self) -> str:
        return gettext("Renewal at {authority}").format(authority=self.authority.code)

    @property
    def terms(self) -> Terms:
        """The policy as the rules of licences.life take it."""
        return Terms(
            window_opens_days=self.window_opens_days,
            last_filing_days=self.last_filing_days,
            renewable=self.renewable,
            conditions=self.conditions,
            continues_while_undecided=self.continues_while_undecided,
            window_steps_days=tuple(self.window_steps_days),
            reminder_steps_days=tuple(self.reminder_steps_days),
            expiry_steps_days=tuple(self.expiry_steps_days),
            after_expiry_steps_days=tuple(self.after_expiry_steps_days),
            use_steps_days=tuple(self.use_steps_days),
            notice_steps_days=tuple(self.notice_steps_days),
            fee_steps_days=tuple(self.fee_steps_days),
            bring_into_use_months=self.bring_into_use_months,
            use_notice_days=self.use_notice_days,
            longest_term_months=self.longest_term_months,
            fee_grace_days=self.fee_grace_days,
        )

    @property
    def rules(self) -> tuple[FilingRule, ...]:
        """The rules on which change needs filing; checked when they were entered."""
        return read_rules(self.filing_rules)

    def clean(self) -> None:
        try:
            read_rules(self.filing_rules)
        except RuleFormatError as error:
            raise ValidationError({"filing_rules": when_read(error.written)}) from error
        for name in STEP_FIELDS:
            steps, lowest = getattr(self, name), 1 if name == "after_expiry_steps_days" else 0
            if not isinstance(steps, list) or not all(type(s) is int and lowest <= s <= 3650 for s in steps):
                raise ValidationError(
                    {
                        name: when_read(
                            sentence(
                                gettext_noop(
                                    "{steps} was given; a list of whole days from {lowest} to 3650 was expected, for example "
                                    "[90, 30, 14]."
                                ),
                                steps=repr(steps),
                                lowest=lowest,
                            )
                        )
                    }
                )
            if len(set(steps)) != len(steps):
                raise ValidationError({name: _("Each reminder step may stand only once in the list.")})
