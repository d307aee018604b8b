"""Steps in the life of licences through the API: what was entered, what can be entered, and entering it."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from licences.life import FIELDS, Step, Taken
from licences.life.records import CHANNEL_STEPS
from licences.models import Holder, LicenceEvent
from licences.models.licences import ENDINGS
from licences.services.life import Told
from sites.api.fields import ChoiceField, DayField, ReferenceField, TextField
from sites.api.serializers import PlainSerializer

CORRECTABLE = [name for name in FIELDS if name.endswith(("_on", "_by", "_from"))]


class LicenceEventSerializer(PlainSerializer[LicenceEvent]):
    """One step that was entered. ``changes`` says what it set: field → [before, after]."""

    class Meta:
        model = LicenceEvent
        fields = (
            "id",
            "licence",
            "channel",
            "step",
            "on",
            "proof",
            "note",
            "changes",
            "entered_by_name",
            "created_at",
        )
        read_only_fields = fields


class CorrectionSerializer(serializers.Serializer[Any]):
    """One date that was entered wrongly, and what it is."""

    field = ChoiceField(choices=CORRECTABLE)
    value = DayField(allow_null=True, help_text="Null: there is no such date.")
    ended_how = ChoiceField(choices=ENDINGS, required=False, help_text="With ended_on: how it ended.")


class EndStepSerializer(serializers.Serializer[Any]):
    """What every step has: its day, what shows it, a remark, and the version that the sender saw."""

    step = ChoiceField(choices=[step.value for step in CHANNEL_STEPS])
    on = DayField(help_text="The day of the step; of an end the first day without the licence.")
    proof = TextField(required=False, allow_blank=True, max_length=200)
    note = TextField(required=False, allow_blank=True, max_length=2000)
    version = serializers.IntegerField(required=False, min_value=1, max_value=2**31 - 1)

    def taken(self) -> Taken:
        data = self.validated_data
        return Taken(step=Step(data["step"]), on=data["on"])

    def told(self) -> Told:
        data = self.validated_data
        return Told(data.get("proof", ""), data.get("note", ""), data.get("number", ""))


class StepSerializer(EndStepSerializer):
    """A step of a whole licence, with what it sets."""

    step = ChoiceField(choices=[step.value for step in Step])
    number = TextField(required=False, allow_blank=True, max_length=60, help_text="Of a grant.")
    in_force_from = DayField(required=False, allow_null=True, help_text="Of a grant.")
    until = DayField(
        required=False, allow_null=True, help_text="The last day of validity, of a grant or renewal."
    )
    fee_due_on = DayField(required=False, allow_null=True, help_text="Of a grant.")
    holder = ReferenceField(
        queryset=Holder.objects.all(), required=False, help_text="Of a transfer: the new one."
    )
    corrected = CorrectionSerializer(many=True, required=False, max_length=20)  # type: ignore[call-arg]

    def taken(self) -> Taken:
        data = self.validated_data
        corrected: list[tuple[str, Any]] = []
        for one in data.get("corrected", ()):
            corrected.append((one["field"], one["value"]))
            if one["field"] == "ended_on" and (one["value"] is None or "ended_how" in one):
                corrected.append(("ended_how", one.get("ended_how", "") if one["value"] else ""))
        holder = data.get("holder")
        return Taken(
            step=Step(data["step"]),
            on=data["on"],
            in_force_from=data.get("in_force_from"),
            until=data.get("until"),
            fee_due_on=data.get("fee_due_on"),
            holder_id=holder.pk if holder else None,
            corrected=tuple(corrected),
        )


class PossibleStepSerializer(serializers.Serializer[Any]):
    """A step, and why it cannot be entered now; an empty sentence: it can."""

    step = serializers.CharField()
    why_not = serializers.CharField(allow_blank=True)


class ComingDaySerializer(serializers.Serializer[Any]):
    """A day on which something has to be done, or the licence ends."""

    kind = serializers.CharField()
    what = serializers.CharField()
    on = serializers.DateField()


class LicenceLifeSerializer(serializers.Serializer[Any]):
    """The life of a licence: how it stands today, what was entered, what comes, what can be entered."""

    standing = serializers.CharField()
    steps = LicenceEventSerializer(many=True)
    coming = ComingDaySerializer(many=True)
    possible = PossibleStepSerializer(many=True)
