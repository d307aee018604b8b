"""Which plans to search for a link's pair, and what is sent when one is taken."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from django import forms

from spectrum.models import ChannelPlan
from spectrum.services import pair_search

_PAIR = re.compile(r"(?P<plan>\d{1,9}):(?P<number>\d{1,5}):(?P<polarisation>[VH]):(?P<way>go|return)")
MOST_PLANS = 10


class PairSearchForm(forms.Form):
    """The question: plans, polarisations, and which way round."""

    plans = forms.ModelMultipleChoiceField(
        label="channel plans",
        queryset=ChannelPlan.objects.order_by("code"),
        widget=forms.SelectMultiple(attrs={"size": 4}),
        error_messages={"required": "Choose at least one channel plan."},
    )
    polarisation = forms.ChoiceField(
        label="polarisation",
        required=False,
        choices=[("", "as it is now"), ("V", "vertical"), ("H", "horizontal"), ("VH", "both")],
    )
    first_sends = forms.ChoiceField(
        label="end A or hub sends",
        required=False,
        choices=[
            ("", "what fits"),
            (pair_search.GO, "the go half"),
            (pair_search.RETURN, "the return half"),
        ],
    )

    def clean_plans(self) -> Any:
        plans = self.cleaned_data["plans"]
        if len(plans) > MOST_PLANS:
            raise forms.ValidationError(f"Choose at most {MOST_PLANS} plans for one search.")
        return plans


class PairTakeForm(forms.Form):
    """The answer: one pair as its button names it, the last day, and the version of the link that was seen."""

    pair = forms.RegexField(
        regex=_PAIR, error_messages={"required": "Choose a pair.", "invalid": "Choose a pair from the table."}
    )
    until = forms.DateField(
        required=False,
        error_messages={"invalid": "The last day is not a date; year-month-day was expected."},
    )
    version = forms.IntegerField(required=False, min_value=1, max_value=2**31 - 1)

    def chosen(self) -> tuple[int, int, str, str]:
        """Plan (key), channel number, polarisation, and what the first end sends."""
        parts = _PAIR.fullmatch(self.cleaned_data["pair"])
        if parts is None:
            raise ValueError("chosen() needs a valid form.")
        return int(parts["plan"]), int(parts["number"]), parts["polarisation"], parts["way"]

    def until_day(self) -> dt.date | None:
        day: dt.date | None = self.cleaned_data["until"]
        return day
