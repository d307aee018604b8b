"""Which plans to search for a link's pair, and what is sent when one is taken."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from spectrum.models import ChannelPlan
from spectrum.services import pair_search

_PAIR = re.compile(r"(?P<plan>\d{1,9}):(?P<number>\d{1,5}):(?P<polarisation>[VH]):(?P<way>go|return)")
MOST_PLANS = 10


class PairSearchForm(forms.Form):
    """The question: plans, polarisations, and which way round."""

    plans = forms.ModelMultipleChoiceField(
        label=_("channel plans"),
        queryset=ChannelPlan.objects.order_by("code"),
        widget=forms.SelectMultiple(attrs={"size": 4}),
        error_messages={"required": _("Choose at least one channel plan.")},
    )
    polarisation = forms.ChoiceField(
        label=_("polarisation"),
        required=False,
        choices=[("", _("as it is now")), ("V", _("vertical")), ("H", _("horizontal")), ("VH", _("both"))],
    )
    first_sends = forms.ChoiceField(
        label=_("end A or hub sends"),
        required=False,
        choices=[
            ("", _("what fits")),
            (pair_search.GO, _("the go half")),
            (pair_search.RETURN, _("the return half")),
        ],
    )

    def clean_plans(self) -> Any:
        plans = self.cleaned_data["plans"]
        if len(plans) > MOST_PLANS:
            raise forms.ValidationError(
                gettext("Choose at most {most} plans for one search.").format(most=MOST_PLANS)
            )
        return plans


class PairTakeForm(forms.Form):
    """The answer: one pair as its button names it, the last day, and the version of the link that was seen."""

    pair = forms.RegexField(
        regex=_PAIR,
        error_messages={"required": _("Choose a pair."), "invalid": _("Choose a pair from the table.")},
    )
    until = forms.DateField(
        required=False,
        error_messages={"invalid": _("The last day is not a date; year-month-day was expected.")},
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
