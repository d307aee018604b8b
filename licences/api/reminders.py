"""The API of reminders: read, acknowledged and put off; and how the caller wants them."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, cast

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from licences import selectors
from licences.life import Topic
from licences.models import Reminder, ReminderSettings
from licences.services import reminders
from licences.services.reminders.calendar import renew_address
from licences.services.reminders.keeping import NOT_KEPT, keep, version_of
from licences.services.reminders.recipients import clock_of, settings_of
from licences.services.reminders.signed import calendar_address
from sites.api.fields import ChoiceField, DayField, TextField, WholeNumberField
from sites.api.listing import IdFilter, YesNoFilter
from sites.api.parsing import BodyParser
from sites.api.serializers import PlainSerializer, version_seen
from sites.api.views import ListViewSet
from sites.errors import NotAllowedError, StaleWriteError
from sites.models import Person
from sites.models.people import known_time_zone
from sites.services.record import Author


class ReminderSerializer(PlainSerializer[Reminder]):
    """One reminder of one licence to one person. ``escalated``: to a manager, because nobody acknowledged it."""

    licence_label = serializers.CharField(source="licence", read_only=True)
    recipient_name = serializers.CharField(source="recipient", read_only=True)
    acknowledged_by_name = serializers.CharField(source="acknowledged_by", read_only=True, allow_null=True)
    put_off_at_most_to = serializers.SerializerMethodField(
        help_text="The last day to which it may be put off."
    )
    may_answer = serializers.SerializerMethodField(help_text="Whether you may acknowledge it and put it off.")

    class Meta:
        model = Reminder
        fields = (
            "id",
            "licence",
            "licence_label",
            "recipient",
            "recipient_name",
            "step",
            "days_before",
            "about_on",
            "act_by",
            "due_on",
            "escalated",
            "state",
            "sent_at",
            "attempts",
            "last_error",
            "acknowledged_at",
            "acknowledged_by",
            "acknowledged_by_name",
            "snoozed_until",
            "snooze_reason",
            "put_off_at_most_to",
            "may_answer",
        )
        read_only_fields = fields

    def get_put_off_at_most_to(self, reminder: Reminder) -> dt.date:
        return reminders.latest_day(reminder, clock_of(reminder.recipient, timezone.now()).date())

    def get_may_answer(self, reminder: Reminder) -> bool:
        return reminders.may_answer(self.context["request"].user, reminder)


class PutOffSerializer(serializers.Serializer[Any]):
    """Until when, and why; the reason stays in the change record."""

    until = DayField(help_text="The person is reminded again on this day; after today, not after act_by.")
    reason = TextField(max_length=200)


class ReminderFilter(filters.FilterSet):
    licence = IdFilter()
    recipient = IdFilter()
    state = filters.ChoiceFilter(choices=Reminder.State.choices)
    stands = filters.ChoiceFilter(
        method="standing",
        choices=[(name, name) for name in selectors.REMINDER_STANDS],
        label="How it stands for people: open is not answered yet.",
    )
    escalated = YesNoFilter()
    step = filters.ChoiceFilter(choices=Reminder.Step.choices)
    due_from = filters.DateFilter("due_on", lookup_expr="gte")
    due_until = filters.DateFilter("due_on", lookup_expr="lte")
    act_by_until = filters.DateFilter("act_by", lookup_expr="lte")

    def standing(self, rows: QuerySet[Reminder], _name: str, value: str) -> QuerySet[Reminder]:
        return rows.filter(selectors.REMINDER_STANDS[value])


class ReminderViewSet(ListViewSet):
    """Reminders sent and to be sent. Everybody answers their own, and whose role says so the others'."""

    needs: ClassVar[dict[str, tuple[str, ...]]] = {
        "acknowledge": ("licences.view_reminder",),
        "put_off": ("licences.view_reminder",),
    }
    queryset = selectors.all_reminders()
    serializer_class = ReminderSerializer
    filterset_class = ReminderFilter
    search_fields = ("licence__number", "recipient__username", "last_error")
    orderings = {name: name for name in ("due_on", "act_by", "sent_at", "state")}

    @extend_schema(request=None, responses=ReminderSerializer)
    @action(detail=True, methods=["post"])
    def acknowledge(self, request: Request, pk: str = "") -> Response:
        """Say that somebody has it in hand: nobody else is told of this step. Once more changes nothing."""
        person = cast(Person, request.user)
        reminders.acknowledge(self._mine(request), by=person, author=Author.of(person))
        return self._as_stored()

    @extend_schema(request=PutOffSerializer, responses=ReminderSerializer)
    @action(detail=True, methods=["post"], url_path="put-off", url_name="put-off")
    def put_off(self, request: Request, pk: str = "") -> Response:
        """Be reminded again on a day, with the reason; 409 where it was answered or overtaken meanwhile."""
        reminder = self._mine(request)
        asked = PutOffSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        reminders.put_off(
            reminder,
            asked.validated_data["until"],
            asked.validated_data["reason"],
            author=Author.of(request.user),
        )
        return self._as_stored()

    def _mine(self, request: Request) -> Reminder:
        reminder: Reminder = self.get_object()
        if not reminders.may_answer(request.user, reminder):
            raise NotAllowedError(
                gettext(
                    "This reminder went to {recipient}. Only they, a registrar, a manager or an "
                    "administrator can answer it."
                ).format(recipient=reminder.recipient)
            )
        return reminder

    def _as_stored(self) -> Response:
        return Response(self.get_serializer(self.get_object()).data)


class ReminderSettingsSerializer(serializers.Serializer[Any]):
    """How you want reminders. ``version`` is 0 until you keep them for the first time; send it with every change."""

    rhythm = ChoiceField(choices=ReminderSettings.Rhythm.choices)
    weekday = WholeNumberField(min_value=0, max_value=6, help_text="Of a weekly mail: 0 is Monday.")
    hour = WholeNumberField(min_value=0, max_value=23, help_text="No mail before this hour of your day.")
    topics = serializers.ListField(
        child=ChoiceField(choices=[topic.value for topic in Topic]),
        max_length=len(Topic),
        help_text="Of what you want reminders; what you leave out goes to the managers.",
    )
    time_zone = TextField(
        max_length=64,
        validators=[known_time_zone],
        help_text="IANA name, for example Europe/Vienna; days and hours are counted there.",
    )
    version = serializers.IntegerField(required=False, min_value=NOT_KEPT, max_value=2**31 - 1)
    calendar_address = serializers.CharField(
        read_only=True,
        help_text="The secret address of your calendar (RFC 5545); empty where none is given out.",
    )


class ReminderSettingsView(APIView):
    """How the caller wants reminders: how often, when, of what, in which time zone."""

    permission_classes = (IsAuthenticated,)
    parser_classes = (BodyParser,)
    metadata_class = None
    http_method_names = ["get", "head", "put", "patch"]

    @extend_schema(responses=ReminderSettingsSerializer)
    def get(self, request: Request) -> Response:
        """Your settings; what is usual where you never kept any."""
        return _answer(cast(Person, request.user))

    @extend_schema(request=ReminderSettingsSerializer, responses=ReminderSettingsSerializer)
    def put(self, request: Request) -> Response:
        """Keep all of your settings; 409 where they were kept elsewhere in the meantime."""
        return self._keep(request, partial=False)

    @extend_schema(request=ReminderSettingsSerializer(partial=True), responses=ReminderSettingsSerializer)
    def patch(self, request: Request) -> Response:
        """Keep some of your settings; 409 where they were kept elsewhere in the meantime."""
        return self._keep(request, partial=True)

    def _keep(self, request: Request, *, partial: bool) -> Response:
        person = Person.objects.get(pk=cast(Person, request.user).pk)
        asked = ReminderSettingsSerializer(data=request.data, partial=partial)
        asked.is_valid(raise_exception=True)
        sent = dict(asked.validated_data)
        seen = version_seen(request, sent.pop("version", None))
        stored = settings_of(person)
        if seen != version_of(stored):
            raise StaleWriteError(
                gettext("Your settings were kept elsewhere after you read them. Read them again and compare.")
            )
        zone = sent.pop("time_zone", person.time_zone)
        if "topics" in sent:
            sent["topics"] = list(dict.fromkeys(sent["topics"]))
        for name, value in sent.items():
            setattr(stored, name, value)
        keep(stored, zone, expected_version=seen)
        return _answer(person)


class ReminderCalendarView(APIView):
    """The address of the caller's calendar."""

    permission_classes = (IsAuthenticated,)
    parser_classes = (BodyParser,)
    metadata_class = None
    http_method_names = ["post"]

    @extend_schema(request=None, responses=ReminderSettingsSerializer)
    def post(self, request: Request) -> Response:
        """Give your calendar an address, or a new one; an earlier one no longer answers."""
        person = cast(Person, request.user)
        renew_address(person)
        return _answer(person)


def _answer(person: Person) -> Response:
    stored = settings_of(person)
    shown = {
        "rhythm": stored.rhythm,
        "weekday": stored.weekday,
        "hour": stored.hour,
        "topics": stored.topics,
        "time_zone": Person.objects.values_list("time_zone", flat=True).get(pk=person.pk),
        "version": version_of(stored),
        "calendar_address": calendar_address(stored),
    }
    return Response(ReminderSettingsSerializer(shown).data, headers={"ETag": f'"{version_of(stored)}"'})
