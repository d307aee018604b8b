"""Does a change of a link need filing? The same body as a change of the link; nothing is written."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from licences.filing import Verdict
from spectrum.models import Link, Station
from spectrum.services.filing import FilingVerdict, needs_filing

from .links import LinkSerializer

VERDICTS = f"One of {', '.join(each.value for each in Verdict)}."


class ChangedLinkSerializer(LinkSerializer):
    """A link as it is to be. Its verdict is worked out instead of the link being saved."""

    verdict: FilingVerdict

    def update(self, instance: Link, validated_data: dict[str, Any]) -> Link:
        return self._save(instance, validated_data, expected_version=None)

    def put(self, link: Link, stations: list[Station], expected_version: int | None, reason: str) -> Link:
        self.verdict = needs_filing(link, stations)
        return link


class FilingReasonSerializer(serializers.Serializer[Any]):
    """What one quantity needs, why, and where the rule comes from."""

    quantity = serializers.CharField()
    verdict = serializers.CharField(help_text=VERDICTS)
    sentence = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]


class StationFilingSerializer(serializers.Serializer[Any]):
    """What the change of one station needs."""

    station = serializers.CharField()
    channel = serializers.CharField()
    verdict = serializers.CharField(help_text=VERDICTS)
    reasons = FilingReasonSerializer(many=True)


class FilingVerdictSerializer(serializers.Serializer[Any]):
    """What a change of a link needs: within the licence, a notice, a new grant, or not to be judged."""

    verdict = serializers.CharField(help_text=VERDICTS)
    stations = StationFilingSerializer(many=True)
