"""Searching channel pairs, and taking, extending and releasing one, through the API."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, cast

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from licences.models import Holder
from licences.models.channels import POLARISATIONS
from sites.api.fields import DayField, MegahertzField, ReferenceField, TextField, WholeNumberField
from sites.api.parsing import BodyParser
from sites.api.permissions import RolePermission
from sites.api.serializers import version_seen
from sites.services.record import Author
from spectrum import selectors
from spectrum.models import ChannelPlan, Link, Station
from spectrum.pair_rows import VERDICTS, pair_rows
from spectrum.services import pair_search, reservations

from .links import MOST_STATIONS, LinkSerializer, StationSerializer

MOST_PLANS, MOST_ROWS, USUAL_ROWS = 10, 20_000, 50
PLANNERS = ("spectrum.add_link",)


class DraftSerializer(serializers.Serializer[Any]):
    """A link that is not stored: what a search needs to know of it."""

    kind = serializers.ChoiceField(choices=Link.Kind.choices, default=Link.Kind.POINT_TO_POINT)
    holder = ReferenceField(queryset=Holder.objects.all())
    starts_on = DayField(required=False, allow_null=True)
    ends_on = DayField(required=False, allow_null=True)
    required_bit_rate_kbps = serializers.FloatField(required=False, allow_null=True, min_value=0.001)
    required_round_trip_ms = serializers.FloatField(required=False, allow_null=True, min_value=0.001)
    stations = StationSerializer(many=True, max_length=MOST_STATIONS, min_length=2)  # type: ignore[call-arg]


class PairSearchRequestSerializer(serializers.Serializer[Any]):
    """Which link, stored or not, and which plans."""

    link = ReferenceField(queryset=Link.objects.select_related("holder"), required=False)
    draft = DraftSerializer(required=False)
    plans = serializers.ListField(
        child=ReferenceField(queryset=ChannelPlan.objects.all()), min_length=1, max_length=MOST_PLANS
    )
    polarisations = serializers.MultipleChoiceField(
        choices=POLARISATIONS, required=False, help_text="Those of the stations when none is named."
    )
    first_sends = serializers.ChoiceField(
        choices=pair_search.WAYS,
        default=pair_search.FITTING,
        help_text="Which half end A or the hub transmits; 'fitting' takes what fits both sites.",
    )
    limit = WholeNumberField(default=USUAL_ROWS, min_value=1, max_value=MOST_ROWS)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("link" in attrs) == ("draft" in attrs):
            raise serializers.ValidationError(
                {"link": "Name a link of the register, or send a draft; one of the two was expected."}
            )
        return attrs


class SideSerializer(serializers.Serializer[Any]):
    """The worst margin in one direction; null: more than the search looks at."""

    margin_db = serializers.FloatField(allow_null=True)
    other = serializers.CharField()


class HoldingSerializer(serializers.Serializer[Any]):
    """Who holds a clashing pair."""

    link_id = serializers.IntegerField()
    link = serializers.CharField()
    person = serializers.CharField()
    until = serializers.DateField(allow_null=True)


class PairRowSerializer(serializers.Serializer[Any]):
    """One channel pair of the search."""

    rank = serializers.IntegerField()
    plan = serializers.IntegerField(source="plan_id")
    plan_code = serializers.CharField(source="plan")
    number = serializers.IntegerField()
    polarisation = serializers.ChoiceField(choices=POLARISATIONS)
    go_mhz = MegahertzField(source="go_hz")
    return_mhz = MegahertzField(source="return_hz")
    first_sends_go = serializers.BooleanField()
    verdict = serializers.ChoiceField(choices=tuple(VERDICTS.values()))
    worst_margin_db = serializers.FloatField(source="worst_db", allow_null=True)
    disturbs = SideSerializer()
    disturbed = SideSerializer()
    intermodulation_products = serializers.IntegerField(source="intermodulation")
    half_clash = serializers.BooleanField()
    held = HoldingSerializer(many=True)
    unused_licences = serializers.ListField(source="licensed", child=serializers.CharField())
    modes = serializers.ListField(child=serializers.CharField())
    reasons = serializers.ListField(child=serializers.CharField())


class NarrowerModeSerializer(serializers.Serializer[Any]):
    """A narrower mode of a station's radio that carries the service."""

    station = serializers.CharField()
    mode = serializers.IntegerField(source="mode.pk")
    mode_label = serializers.CharField(source="mode.label")
    sentence = serializers.CharField()


class PairSearchAnswerSerializer(serializers.Serializer[Any]):
    """How many pairs there are of each verdict, the first of them in order, and narrower modes."""

    counts = serializers.DictField(child=serializers.IntegerField())
    pairs = PairRowSerializer(many=True)
    narrower_modes = NarrowerModeSerializer(many=True)


class TakePairSerializer(serializers.Serializer[Any]):
    """Which pair, and until when; without a day, for the usual length."""

    plan = ReferenceField(queryset=ChannelPlan.objects.all())
    number = WholeNumberField(min_value=1, max_value=20_000)
    polarisation = serializers.ChoiceField(choices=POLARISATIONS, required=False)
    first_sends = serializers.ChoiceField(choices=pair_search.WAYS, default=pair_search.FITTING)
    until = DayField(required=False)
    version = WholeNumberField(required=False, help_text="Of the link; the header If-Match is taken too.")


class ExtendPairSerializer(serializers.Serializer[Any]):
    """The new last day."""

    until = DayField()
    version = WholeNumberField(required=False)


class ReleasePairSerializer(serializers.Serializer[Any]):
    """Why the pair is given back."""

    reason = TextField(max_length=500, required=False, allow_blank=True)
    version = WholeNumberField(required=False)


class PairView(GenericAPIView[Link]):
    """What the four views of pairs share."""

    queryset = Link.objects.all()
    permission_classes = (RolePermission,)
    parser_classes = (BodyParser,)
    metadata_class = None
    http_method_names = ["post"]

    def asked(self, request: Request) -> dict[str, Any]:
        body = self.get_serializer(data=request.data)
        body.is_valid(raise_exception=True)
        return cast(dict[str, Any], body.validated_data)

    def answer(self, link: Link) -> Response:
        """The link as it stands now."""
        stored = selectors.all_links().get(pk=link.pk)
        return Response(LinkSerializer(stored, context=self.get_serializer_context()).data)


class PairSearchView(PairView):
    """The search for a channel pair."""

    serializer_class = PairSearchRequestSerializer
    needs: ClassVar[dict[str, tuple[str, ...]]] = {"POST": ("spectrum.view_link",)}

    @extend_schema(request=PairSearchRequestSerializer, responses=PairSearchAnswerSerializer)
    def post(self, request: Request) -> Response:
        """Try every pair of the plans for a link; nothing is stored."""
        asked = self.asked(request)
        link, stations = asked.get("link"), []
        if link is not None:
            stations = pair_search.stations_to_search(link)
        else:
            link, stations = _drafted(asked["draft"])
        found = pair_search.search_pairs(
            link,
            stations,
            asked["plans"],
            polarisations=sorted(asked.get("polarisations", ()), reverse=True),
            first_sends=asked["first_sends"],
        )
        verdicts = found.found.verdict.tolist()
        answer = {
            "counts": {word: verdicts.count(number) for number, word in VERDICTS.items()},
            "pairs": pair_rows(found, asked["limit"]),
            "narrower_modes": found.narrower,
        }
        return Response(PairSearchAnswerSerializer(answer).data)


class TakePairView(PairView):
    """Taking a pair."""

    serializer_class = TakePairSerializer
    needs: ClassVar[dict[str, tuple[str, ...]]] = {"POST": PLANNERS}

    @extend_schema(request=TakePairSerializer, responses=LinkSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Set a planned link to a pair and hold it; 409 with who holds it and until when if it clashes."""
        link = self.get_object()
        asked = self.asked(request)
        taken = reservations.take_pair(
            link,
            asked["plan"],
            asked["number"],
            by=Author.of(request.user),
            polarisation=asked.get("polarisation", ""),
            first_sends=asked["first_sends"],
            until=asked.get("until"),
            expected_version=_version(request, asked),
        )
        return self.answer(taken)


class ExtendPairView(PairView):
    """Extending a reservation."""

    serializer_class = ExtendPairSerializer
    needs: ClassVar[dict[str, tuple[str, ...]]] = {"POST": (*PLANNERS, reservations.BY_ROLE)}

    @extend_schema(request=ExtendPairSerializer, responses=LinkSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Hold the link's pair until another day."""
        link = self.get_object()
        asked = self.asked(request)
        by = Author.of(request.user)
        return self.answer(
            reservations.extend(link, asked["until"], by=by, expected_version=_version(request, asked))
        )


class ReleasePairView(PairView):
    """Releasing a reservation."""

    serializer_class = ReleasePairSerializer
    needs: ClassVar[dict[str, tuple[str, ...]]] = {"POST": (*PLANNERS, reservations.BY_ROLE)}

    @extend_schema(request=ReleasePairSerializer, responses=LinkSerializer)
    def post(self, request: Request, pk: int) -> Response:
        """Give the link's pair back; the link lapses."""
        link = self.get_object()
        asked = self.asked(request)
        by, reason = Author.of(request.user), asked.get("reason", "")
        return self.answer(
            reservations.release(link, by=by, reason=reason, expected_version=_version(request, asked))
        )


def _version(request: Request, asked: Mapping[str, Any]) -> int | None:
    """The version that the sender saw, when one was named; a pair's own lock keeps others out besides."""
    if "version" not in asked and "If-Match" not in request.headers:
        return None
    return version_seen(request, asked.get("version"))


def _drafted(values: Mapping[str, Any]) -> tuple[Link, list[Station]]:
    sent = [dict(station) for station in values["stations"]]
    link = Link(code="draft", **{name: value for name, value in values.items() if name != "stations"})
    for station in sent:
        station.pop("id", None)
    return link, [Station(**station) for station in sent]
