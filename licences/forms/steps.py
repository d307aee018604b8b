"""The form of one step: its day, what it sets, and what shows it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.life import Step, Taken
from licences.models import Holder, Licence
from licences.models.licences import ENDINGS
from licences.services.life import Told
from sites.errors import RegisterError
from sites.forms.base import plain_messages
from sites.lazily import Words

_DATES = (
    "applied_on",
    "granted_on",
    "in_force_from",
    "bring_into_use_by",
    "brought_into_use_on",
    "use_notice_by",
    "use_notified_on",
    "expires_on",
    "renewal_filed_on",
    "let_expire_on",
    "fee_due_on",
    "ended_on",
)
#: The dates that a correction can set, in the words of the licence's page.
CORRECTABLE = tuple(
    (field.name, field.verbose_name) for field in Licence._meta.fields if field.name in _DATES
)
ON_LABELS = {
    Step.GRANT: _("granted on"),
    Step.SURRENDER: _("first day without it"),
    Step.CANCEL: _("first day without it"),
    Step.LAPSE: _("first day without it"),
    Step.RENEW: _("renewed on"),
    Step.REFUSE_RENEWAL: _("refused on"),
    Step.TRANSFER: _("first day of the new holder"),
    Step.PAY_FEE: _("paid on"),
}


def day_field(label: Words, *, required: bool = True, help_text: str = "") -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=required, widget=widget, help_text=help_text)


class StepForm(forms.Form):
    """One step of a licence or a channel; the fields are those that the step needs."""

    version = forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=1, max_value=2**31 - 1)

    def __init__(self, step: Step, data: Any = None, *, of_channel: bool = False, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.label_suffix = ""
        self.step = step
        if step is Step.GRANT:
            self.fields["number"] = forms.CharField(
                label=gettext("licence number"),
                required=False,
                max_length=60,
                help_text=gettext("Empty: as it is now."),
            )
        self.fields["on"] = day_field(ON_LABELS.get(step, _("on")))
        if step is Step.GRANT:
            self.fields["in_force_from"] = day_field(
                gettext("in force from"),
                required=False,
                help_text=gettext("Empty: from the day of the grant."),
            )
            self.fields["until"] = day_field(
                gettext("expires (last day of validity)"),
                required=False,
                help_text=gettext("Empty: no fixed end."),
            )
            self.fields["fee_due_on"] = day_field(gettext("next fee due"), required=False)
        elif step is Step.RENEW:
            self.fields["until"] = day_field(gettext("new last day of validity"))
        elif step is Step.TRANSFER:
            self.fields["holder"] = forms.ModelChoiceField(
                label=gettext("new holder"),
                queryset=Holder.objects.order_by("name"),
                empty_label=gettext("choose"),
            )
        elif step is Step.CORRECT:
            self.fields["corrected"] = forms.ChoiceField(label=gettext("which date"), choices=CORRECTABLE)
            self.fields["value"] = day_field(
                gettext("what it is"), required=False, help_text=gettext("Empty: there is no such date.")
            )
            self.fields["how"] = forms.ChoiceField(
                label=gettext("how it ended"), required=False, choices=[("", gettext("as it is")), *ENDINGS],
                help_text=gettext("Only for the first day without it."),
            )  # fmt: skip
        self.fields["proof"] = forms.CharField(
            label=gettext("proof"), required=False, max_length=200,
            help_text=gettext("The letter, receipt or file number that shows it."),
        )  # fmt: skip
        self.fields["note"] = forms.CharField(
            label=gettext("note"), required=step is Step.CORRECT, max_length=2000, widget=forms.Textarea(attrs={"rows": 3}),
            help_text=gettext("Why the entry was wrong.") if step is Step.CORRECT else "",
        )  # fmt: skip
        for name, field in self.fields.items():
            plain_messages(name, field)
        self.needed = {name for name, field in self.fields.items() if field.required}
        self.now_in_register: dict[str, Any] = {}

    def taken(self) -> Taken:
        """The step as it was entered. The form must be valid."""
        data = self.cleaned_data
        holder: Holder | None = data.get("holder")
        return Taken(
            step=self.step,
            on=data["on"],
            in_force_from=data.get("in_force_from"),
            until=data.get("until"),
            fee_due_on=data.get("fee_due_on"),
            holder_id=holder.pk if holder else None,
            corrected=correction(data["corrected"], data.get("value"), data.get("how", ""))
            if self.step is Step.CORRECT
            else (),
        )

    def told(self) -> Told:
        data = self.cleaned_data
        return Told(proof=data["proof"], note=data["note"], number=data.get("number", ""))

    def take_error(self, error: RegisterError) -> None:
        self.add_error(error.field if error.field in self.fields else None, error.message)


def correction(name: str, value: dt.date | None, how: str) -> tuple[tuple[str, dt.date | str | None], ...]:
    """What a correction sets; without an end there is no way in which it came."""
    if name != "ended_on":
        return ((name, value),)
    if value is None:
        return ((name, None), ("ended_how", ""))
    return ((name, value), ("ended_how", how)) if how else ((name, value),)
