"""The question of the occupancy page: which band, which places, which day. All of it stands in the address."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.lazily import lazy_words
from sites.models import Site
from sites.on_day import read_day
from sites.positions import PositionError, parse_position
from sites.reading import day_here
from sites.selectors import regions
from sites.templatetags.figures import brief
from spectrum.models import ChannelPlan
from spectrum.occupancy import Band, Raster, State
from spectrum.selectors import all_channel_plans
from spectrum.services.occupancy import Places

USUAL_KM = 25
OF_TODAY = "today"  # by what is entered today, its dates applied to the day
FIGURE = {"inputmode": "decimal", "class": "figure", "size": 8}


class DayField(forms.DateField):
    """A day as every other page reads it."""

    def to_python(self, value: Any) -> dt.date | None:
        if value in self.empty_values or isinstance(value, dt.date):
            return value or None
        try:
            return read_day(str(value))
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None


class OccupancyForm(forms.Form):
    """A channel plan, or a band from one frequency to another; a district, or sites around one place; a day."""

    plan = forms.ModelChoiceField(
        label=_("channel plan"),
        queryset=ChannelPlan.objects.none(),
        to_field_name="code",
        required=False,
        empty_label=_("none: a band"),
        error_messages={"invalid_choice": _("There is no such channel plan; choose one of the list.")},
    )
    from_mhz = forms.FloatField(
        label=_("or from (MHz)"),
        required=False,
        min_value=0.001,
        max_value=3e6,
        widget=forms.NumberInput(FIGURE),
    )
    to_mhz = forms.FloatField(
        label=_("to (MHz)"), required=False, min_value=0.001, max_value=3e6, widget=forms.NumberInput(FIGURE)
    )
    region = forms.ChoiceField(label=_("district"), required=False)
    near = forms.CharField(
        label=_("or near (site code or position)"), required=False, max_length=120, widget=forms.TextInput()
    )
    within = forms.FloatField(
        label=_("within (km)"), required=False, min_value=0.1, max_value=500, widget=forms.NumberInput(FIGURE)
    )
    day = DayField(
        label=_("as of"), required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    entries = forms.ChoiceField(
        label=_("by the entries"),
        required=False,
        choices=[("", _("of that day")), (OF_TODAY, _("of today"))],
    )
    state = forms.ChoiceField(
        label=_("only"), required=False, choices=[("", _("all")), *((s.value, lazy_words(s)) for s in State)]
    )

    def __init__(self, data: Any) -> None:
        asked = {name: value for name, value in data.items() if value}
        plans = all_channel_plans()
        if not {"plan", "from_mhz", "to_mhz"} & asked.keys() and (first := plans.first()) is not None:
            asked["plan"] = first.code
        asked.setdefault("day", day_here().isoformat())
        if asked.get("near"):
            asked.setdefault("within", str(USUAL_KM))
        super().__init__(asked, label_suffix="")
        self.fields["plan"].queryset = plans  # type: ignore[attr-defined]
        self.fields["region"].choices = [("", gettext("all")), *((name, name) for name in regions())]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("plan") is None and not self.errors:
            low, high = given.get("from_mhz"), given.get("to_mhz")
            if low is None or high is None:
                self.add_error(
                    "from_mhz" if low is None else "to_mhz",
                    gettext("Choose a channel plan, or give both ends of a band, for example 410 and 430."),
                )
            elif low >= high:
                self.add_error(
                    "to_mhz",
                    gettext("The band has to end above {low} MHz, where it begins; {high} was given.").format(
                        low=brief(low), high=brief(high)
                    ),
                )
        if given.get("region") and given.get("near"):
            self.add_error("near", gettext("Choose a district or sites near a place, not both."))
        return given

    def clean_near(self) -> tuple[float, float] | None:
        typed = self.cleaned_data["near"].strip()
        if not typed:
            return None
        site = Site.objects.filter(code__iexact=typed).values_list("latitude_deg", "longitude_deg").first()
        if site is not None:
            return site
        try:
            found = parse_position(typed)
        except PositionError as error:
            raise forms.ValidationError(
                gettext("“{typed}” is neither the code of a site nor a position. {error}").format(
                    typed=typed, error=error
                )
            ) from error
        return found.latitude_deg, found.longitude_deg

    @property
    def raster(self) -> Raster | None:
        """The channels of the chosen plan."""
        plan: ChannelPlan | None = self.cleaned_data["plan"]
        if plan is None:
            return None
        return Raster(
            plan.first_go_hz,
            plan.spacing_hz,
            plan.channel_width_hz,
            plan.channel_count,
            plan.duplex_spacing_hz,
        )

    @property
    def bands(self) -> list[Band]:
        raster = self.raster
        if raster is not None:
            return raster.bands
        given = self.cleaned_data
        return [Band(round(given["from_mhz"] * 1e6), round(given["to_mhz"] * 1e6))]

    @property
    def places(self) -> Places:
        given = self.cleaned_data
        return Places(given["region"], given["near"], given["within"] or USUAL_KM)
