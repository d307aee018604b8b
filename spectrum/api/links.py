"""How a link is read and written through the API: one object with all its stations."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError as ModelValidationError
from rest_framework import serializers

from sites.api.fields import MegahertzField, ReferenceField, WholeNumberField
from sites.api.serializers import STAMPS, PlainSerializer, RegisterSerializer, errors_by_field, version_seen
from sites.errors import NotAllowedError
from sites.models import Person
from spectrum.models import Link, Station
from spectrum.services import links

MOST_STATIONS = 1000


class StationSerializer(PlainSerializer[Station]):
    """One radio of a link: where it stands, its equipment, what it sends and hears."""

    id = WholeNumberField(
        required=False, help_text="Of a station that is there; without it the label decides."
    )
    site_code = serializers.CharField(source="site.code", read_only=True)
    antenna_type_name = serializers.CharField(source="antenna_type.name", read_only=True)
    radio_type_name = serializers.CharField(source="radio_type.name", read_only=True)
    mode_label = serializers.CharField(source="mode.label", read_only=True)
    licensed_channel_label = serializers.CharField(source="licensed_channel", read_only=True, allow_null=True)
    tx_frequency_mhz = MegahertzField(source="tx_frequency_hz", required=False, allow_null=True)
    rx_frequency_mhz = MegahertzField(source="rx_frequency_hz", required=False, allow_null=True)

    class Meta:
        model = Station
        fields = (
            "id",
            "label",
            "role",
            "site",
            "site_code",
            "antenna_type",
            "antenna_type_name",
            "antenna_height_agl_m",
            "azimuth_deg",
            "tilt_deg",
            "polarisation",
            "feeder_loss_db",
            "duplexer_loss_db",
            "duplexer_isolation_db",
            "antenna_spacing_m",
            "antenna_spacing_vertical_m",
            "radio_type",
            "radio_type_name",
            "mode",
            "mode_label",
            "tx_power_dbm",
            "tx_frequency_mhz",
            "rx_frequency_mhz",
            "licensed_channel",
            "licensed_channel_label",
        )


class StationInRegisterSerializer(StationSerializer):
    """A station with the link it belongs to. Stations are written through their link."""

    link_code = serializers.CharField(source="link.code", read_only=True)

    class Meta:
        model = Station
        fields = ("link", "link_code", *StationSerializer.Meta.fields, "version", "changed_at")
        read_only_fields = fields


class LinkSerializer(RegisterSerializer[Link]):
    """A link with its stations. ``stations``, when sent, is the whole list: one that is left out is removed."""

    holder_name = serializers.CharField(source="holder.name", read_only=True)
    channel_plan_code = serializers.CharField(
        source="channel_plan.code", read_only=True, default=None, allow_null=True
    )
    responsible = ReferenceField(queryset=Person.objects.all(), allow_null=True, required=False)
    responsible_name = serializers.CharField(source="responsible", read_only=True, allow_null=True)
    stations = StationSerializer(many=True, max_length=MOST_STATIONS)  # type: ignore[call-arg]

    class Meta:
        model = Link
        fields = (
            "id",
            "code",
            "name",
            "kind",
            "holder",
            "holder_name",
            "status",
            "channel_plan",
            "channel_plan_code",
            "starts_on",
            "ends_on",
            "reserved_until",
            "responsible",
            "responsible_name",
            "required_bit_rate_kbps",
            "required_round_trip_ms",
            "assumptions",
            "notes",
            "stations",
            *STAMPS,
        )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        holders = [attrs.get("holder"), self.instance.holder if self.instance else None]
        person = self.context["request"].user
        if any(h is not None and not h.own for h in holders) and not person.has_perm(
            "spectrum.what_others_hold"
        ):
            raise NotAllowedError("Your role does not include links of other parties; ask a planner.")
        return attrs

    def create(self, validated_data: dict[str, Any]) -> Link:
        return self._save(Link(), validated_data, expected_version=None)

    def update(self, instance: Link, validated_data: dict[str, Any]) -> Link:
        expected = version_seen(self.context["request"], validated_data.get("version"))
        return self._save(instance, validated_data, expected_version=expected)

    def _save(self, link: Link, values: dict[str, Any], *, expected_version: int | None) -> Link:
        reason = values.pop("reason", "")
        values.pop("version", None)
        stored = {station.pk: station for station in link.stations.all()} if link.pk else {}
        sent = values.pop("stations", None)
        for name, value in values.items():
            setattr(link, name, value)
        stations = list(stored.values()) if sent is None else self._stations(sent, stored)
        try:
            return self.put(link, stations, expected_version, reason)
        except ModelValidationError as error:
            raise serializers.ValidationError(self._by_field(error, stations)) from error

    def put(self, link: Link, stations: list[Station], expected_version: int | None, reason: str) -> Link:
        """Where a link that was read without fault goes: into the register."""
        return links.save_link(
            link, stations, by=self.author, expected_version=expected_version, reason=reason
        )

    def _stations(self, sent: list[dict[str, Any]], stored: Mapping[int, Station]) -> list[Station]:
        """The stations sent, each upon the stored one with its id, or else with its label."""
        by_label = {station.label: station for station in stored.values()}
        problems: list[dict[str, Any]] = []
        stations: list[Station] = []
        for values in sent:
            number = values.pop("id", None)
            station = by_label.get(values.get("label", "")) if number is None else stored.get(number)
            problem: dict[str, Any] = {}
            if number is not None and station is None:
                problem = {
                    "id": [f"Station {number} does not belong to this link; leave the id out for a new one."]
                }
            elif station in stations:
                problem = {"label": ["Two of the stations sent are the same one; each may stand once."]}
            elif station is None:
                problem = self._missing(values)
            problems.append(problem)
            station = station or Station()
            for name, value in values.items():
                setattr(station, name, value)
            stations.append(station)
        if any(problems):
            raise serializers.ValidationError({"stations": problems})
        return stations

    def _missing(self, values: Mapping[str, Any]) -> dict[str, Any]:
        """What a new station lacks; a PATCH lets required fields out, which only a stored station can bear."""
        child = self.fields["stations"].child  # type: ignore[attr-defined]
        return {
            name: [field.error_messages["required"]]
            for name, field in child.fields.items()
            if field.required and not field.read_only and field.source not in values
        }

    def _by_field(self, error: ModelValidationError, stations: list[Station]) -> dict[str, Any]:
        """The service's messages, with the place in the list instead of the station's label."""
        child = self.fields["stations"].child  # type: ignore[attr-defined]
        names = {field.source: name for name, field in child.fields.items() if not field.read_only}
        by_field = errors_by_field(error, self.fields)
        for number, station in enumerate(stations):
            prefix = f"{station.label}."
            for key in [key for key in by_field if key.startswith(prefix)]:
                source = key.removeprefix(prefix)
                name = "" if source == "__all__" else f".{names.get(source, source)}"
                by_field[f"stations.{number}{name}"] = by_field.pop(key)
        return by_field
