"""How the person who is signed in reads the register."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.models import Person
from sites.reading import time_zones
from sites.services.people import READING, as_seen


class ReadingForm(forms.ModelForm):
    time_zone = forms.ChoiceField(
        label=_("time zone"),
        help_text=_("Times on pages and in mails. A licence still expires on the register's day."),
    )
    seen = forms.CharField(required=False, max_length=120, widget=forms.HiddenInput)

    class Meta:
        model = Person
        fields = READING

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.label_suffix = ""
        zone = self.instance.time_zone
        self.fields["time_zone"].choices = [(n, n) for n in sorted({*time_zones(), zone})]  # type: ignore[attr-defined]
        self.initial["seen"] = as_seen(self.instance)
        self.needed: set[str] = set()
        self.now_in_register: dict[str, Any] = {}
        for field in self.fields.values():
            field.error_messages |= {
                "required": _("Choose one."),
                "invalid_choice": _("“%(value)s” is not offered here; choose from the list."),
            }

    @property
    def wanted(self) -> dict[str, str]:
        """What the person chose."""
        return {name: self.cleaned_data[name] for name in READING}

    def take_stale(self, error: RegisterError, stored: Person) -> None:
        """Say that something else is stored by now, and what; the next sending of the form is about that."""
        self.add_error(None, error.message)
        self.data = {**self.data.dict(), "seen": as_seen(stored)}  # type: ignore[attr-defined]
        for name in READING:
            now = getattr(stored, name)
            if now != self.cleaned_data.get(name):
                self.now_in_register[name] = dict(self.fields[name].choices).get(now, now)  # type: ignore[attr-defined]
