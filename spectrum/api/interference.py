"""The API of the interference log."""

from __future__ import annotations

import datetime as dt

from django.db.models import QuerySet
from django_filters import rest_framework as filters

from sites.api.fields import MegahertzField
from sites.api.listing import IdFilter, YesNoFilter
from sites.api.serializers import STAMPS, RegisterSerializer
from sites.api.views import RegisterViewSet
from spectrum import selectors
from spectrum.models import InterferenceEntry


class InterferenceEntrySerializer(RegisterSerializer[InterferenceEntry]):
    """Interference that was observed on a link; open while ``closed_on`` is null.

    Its evidence are documents: of ``interference-entry``, with its id.
    """

    frequency_mhz = MegahertzField(source="frequency_hz", required=False, allow_null=True)

    class Meta:
        model = InterferenceEntry
        fields = (
            "id",
            "link",
            "began_on",
            "ended_on",
            "times",
            "station",
            "place",
            "frequency_mhz",
            "level_dbm",
            "observed",
            "other_party",
            "source",
            "finding",
            "done",
            "outcome",
            "closed_on",
            *STAMPS,
        )


class InterferenceFilter(filters.FilterSet):
    link = IdFilter()
    other_party = IdFilter()
    finding = IdFilter()
    open = YesNoFilter("closed_on", lookup_expr="isnull")
    since = filters.DateFilter(method="not_over_before", label="Not over before this day.")
    until = filters.DateFilter("began_on", lookup_expr="lte")

    def not_over_before(
        self, rows: QuerySet[InterferenceEntry], _: str, value: dt.date
    ) -> QuerySet[InterferenceEntry]:
        return rows.exclude(ended_on__lt=value)


class InterferenceViewSet(RegisterViewSet):
    """The interference log of all links."""

    queryset = selectors.all_interference()
    serializer_class = InterferenceEntrySerializer
    filterset_class = InterferenceFilter
    search_fields = ("link__code", "observed", "source", "done", "outcome", "place")
    orderings = {
        "began_on": "began_on",
        "ended_on": "ended_on",
        "closed_on": "closed_on",
        "link": "link__code",
        "changed_at": "changed_at",
    }
