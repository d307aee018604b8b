"""Forms about reminders: how a person wants them, and putting one off."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from licences.life import Topic
from licences.models import ReminderSettings
from sites.errors import RegisterError
from sites.forms.base import RegisterForm
from sites.lazily import lazy_words
from sites.reading import time_zones


class ReminderSettingsForm(RegisterForm):
    time_zone = forms.ChoiceField(
        label=_("time zone"), help_text=_("Days and hours are counted there."), choices=()
    )
    hour = forms.IntegerField(
        label=_("not before (hour of the day)"),
        min_value=0,
        max_value=23,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "class": "figure"}),
        help_text=_("0 to 23."),
    )
    topics = forms.MultipleChoiceField(
        label=_("of what"),
        required=False,
        choices=[(topic.value, lazy_words(topic)) for topic in Topic],
        widget=forms.CheckboxSelectMultiple,
        help_text=_("What you leave out goes to the managers."),
    )

    class Meta(RegisterForm.Meta):
        model = ReminderSettings
        fields = ["rhythm", "weekday", "hour", "topics"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zone = self.instance.person.time_zone
        names = sorted({*time_zones(), zone})
        self.fields["time_zone"].choices = [(name, name) for name in names]  # type: ignore[attr-defined]
        self.initial.setdefault("time_zone", zone)

    field_order = ["rhythm", "weekday", "hour", "time_zone", "topics"]


class PutOffForm(forms.Form):
    """Until when, and why."""

    until = forms.DateField(
        label=_("remind again on"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": _("A day was expected, such as 2026-12-01.")},
    )
    reason = forms.CharField(label=_("why"), max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.label_suffix = ""
        self.needed = {"until", "reason"}
        self.now_in_register: dict[str, Any] = {}

    def take_error(self, error: RegisterError) -> None:
        """Put what the service refused beside the field that it is about."""
        self.add_error(error.field or None, error.message)
