"""How the sensitivity of a finding's margin is told through the API."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from sites.api.fields import NumberField


class ChangedAssumptionSerializer(serializers.Serializer[Any]):
    """One assumption changed alone, and the margin then."""

    assumption = serializers.CharField(read_only=True)
    was = serializers.CharField(read_only=True)
    now = serializers.CharField(read_only=True)
    margin_db = NumberField(
        read_only=True, allow_null=True, help_text="Null where it was not computed; note says why."
    )
    moves_by_db = NumberField(read_only=True, allow_null=True)
    other_sign = serializers.BooleanField(
        read_only=True,
        help_text="Whether the finding would change sides: from over the limit to inside, or back.",
    )
    note = serializers.CharField(read_only=True)


class SensitivitySerializer(serializers.Serializer[Any]):
    """How the margin of a finding moves with its assumptions."""

    sentence = serializers.CharField(source="sensitivity.sentence", read_only=True)
    margin_db = NumberField(source="sensitivity.margin_db", read_only=True)
    least_db = NumberField(source="sensitivity.least_db", read_only=True)
    greatest_db = NumberField(source="sensitivity.greatest_db", read_only=True)
    spread_db = NumberField(source="sensitivity.spread_db", read_only=True)
    differs = serializers.CharField(
        read_only=True, help_text="Empty, or why the margin is not the one that the finding states."
    )
    changed = ChangedAssumptionSerializer(source="sensitivity.rows", many=True, read_only=True)
