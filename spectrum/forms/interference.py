"""The form of an entry of the interference log."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.db.models import Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.forms.base import RegisterForm
from sites.forms.figures import MegahertzField
from spectrum.models import Finding, InterferenceEntry, Station
from spectrum.wording import headline_of


class InterferenceForm(RegisterForm):
    """In the order in which it becomes known: when, where, what, from whom, what was done, what came of it."""

    stored_as = {"frequency_mhz": "frequency_hz"}
    sections = (
        (_("When"), ("began_on", "ended_on", "times")),
        (_("Where"), ("station", "place")),
        (_("What was observed"), ("frequency_mhz", "level_dbm", "observed")),
        (_("From whom"), ("other_party", "source", "finding")),
        (_("What came of it"), ("done", "outcome", "closed_on")),
    )

    frequency_mhz = MegahertzField(label=_("frequency (MHz)"), required=False)

    class Meta(RegisterForm.Meta):
        model = InterferenceEntry
        fields = [
            "began_on", "ended_on", "times", "station", "place", "level_dbm", "observed", "other_party", "source",
            "finding", "done", "outcome", "closed_on",
        ]  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        entry = self.instance
        stations = cast(forms.ModelChoiceField, self.fields["station"])
        stations.queryset = (
            Station.objects.filter(link=entry.link_id).select_related("link").order_by("label")
        )
        findings = cast(forms.ModelChoiceField, self.fields["finding"])
        about = Q(link=entry.link_id) | Q(other_link=entry.link_id)
        findings.queryset = Finding.objects.filter(about).order_by("rank", "id")
        findings.label_from_instance = headline_of  # type: ignore[method-assign, assignment]
        findings.help_text = gettext("Where a check had found it, or found it afterwards.")
