"""The form by which a regulator's extract comes in: which kind, which file, as of which day."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from spectrum import selectors
from spectrum.services.extracts import mapping_coded, ready_mappings

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
FIRST_DAY = dt.date(1950, 1, 1)


class ExtractForm(forms.Form):
    """An extract and how it is read. The kinds are grouped by their authorities."""

    mapping = forms.ChoiceField(label=_("kind of extract"), help_text=_("It says which column is what."))
    file = forms.FileField(label=_("file"), help_text=_("A table as CSV or .xlsx, with one row of headings."))
    as_of = forms.DateField(
        label=_("the extract stands as of"),
        required=False,
        widget=DAY,
        help_text=_("What is past its expiry is judged by this day. Empty: today."),
    )

    def __init__(self, *arguments: Any, today: dt.date, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.today = today
        choices: Any = [("", "–"), *kinds_by_authority()]
        self.fields["mapping"].choices = choices  # type: ignore[attr-defined]

    def clean_as_of(self) -> dt.date:
        day: dt.date | None = self.cleaned_data["as_of"]
        if day is None:
            return self.today
        if not FIRST_DAY <= day <= self.today:
            raise forms.ValidationError(
                gettext("{day} was given; a day from {first} to today, {today}, was expected.").format(
                    day=day, first=FIRST_DAY, today=self.today
                )
            )
        return day


def kinds_by_authority() -> list[tuple[str, list[tuple[str, str]]]]:
    """The mappings in the register and those that come with the program, by authority."""
    groups: dict[str, list[tuple[str, str]]] = defaultdict(list)
    stored = set()
    for mapping in selectors.all_extract_mappings().order_by("authority__code", "code"):
        stored.add(mapping.code)
        groups[f"{mapping.authority.code}, {mapping.authority.name}"].append((mapping.code, mapping.title))
    for code in ready_mappings():
        if code not in stored:
            mapping = mapping_coded(code)
            words = gettext("{title} (comes with the program)").format(title=mapping.title)
            groups[f"{mapping.authority.code}, {mapping.authority.name}"].append((code, words))
    return list(groups.items())
