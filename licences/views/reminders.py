"""Reminders: the list, one reminder with what can be answered, and how a person wants them."""

from __future__ import annotations

from typing import Any, cast

import django_filters as filters
from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from licences import selectors
from licences.forms.reminders import PutOffForm, ReminderSettingsForm
from licences.models import Reminder
from licences.services import reminders
from licences.services.reminders.calendar import renew_address
from licences.services.reminders.keeping import keep
from licences.services.reminders.recipients import clock_of, settings_of
from licences.services.reminders.signed import calendar_address
from licences.services.reminders.wording import said
from sites.errors import RegisterError
from sites.models import Person
from sites.reading import written_day, written_moment
from sites.services.record import Author
from sites.views.access import Page
from sites.views.addresses import page_of
from sites.views.listing import Column, ListPage
from sites.views.places import search_filter

State = Reminder.State


class ReminderFilter(filters.FilterSet):
    q = search_filter("licence__number", "recipient__last_name", "recipient__username", "snooze_reason")
    stands = filters.ChoiceFilter(
        label=_("stands"),
        method="standing",
        empty_label=_("all"),
        choices=[
            ("open", _("not answered")),
            ("acknowledged", _("acknowledged")),
            ("put_off", _("put off")),
            ("over", _("no longer needed")),
        ],
    )
    mine = filters.ChoiceFilter(
        label=_("whose"), method="only_mine", empty_label=_("everybody's"), choices=[("mine", _("mine"))]
    )
    step = filters.ChoiceFilter(label=_("of what"), choices=Reminder.Step.choices, empty_label=_("all"))

    class Meta:
        model = Reminder
        fields: list[str] = []

    def standing(self, rows: QuerySet[Reminder], _name: str, value: str) -> QuerySet[Reminder]:
        return rows.filter(selectors.REMINDER_STANDS[value])

    def only_mine(self, rows: QuerySet[Reminder], _name: str, _value: str) -> QuerySet[Reminder]:
        return rows.filter(recipient=self.request.user)


def _to(reminder: Reminder) -> str:
    if not reminder.escalated:
        return str(reminder.recipient)
    return gettext("{person}, as a manager").format(person=reminder.recipient)


class ReminderList(ListPage):
    needs = "licences.view_reminder"
    act = _("reading the list of reminders")
    heading = _("Reminders: who was reminded of what, and has it in hand?")
    empty = _(
        "Reminders appear here by themselves when a date of one of our licences comes near. "
        "Which days before it is set by the renewal policy of its authority."
    )
    filterset_class = ReminderFilter
    default_sort = "-due_on"
    template_name = "reminder_list.html"
    columns = (
        Column(_("act by"), lambda r: r.act_by, "date", "act_by", page_of),
        Column(_("licence"), lambda r: r.licence, "code", "licence__number", lambda r: page_of(r.licence)),
        Column(_("reminder"), lambda r: r.step_words, order="step"),
        Column(_("to"), _to),
        Column(_("stands"), reminders.in_words, order="state"),
        Column(_("due"), lambda r: r.due_on, "date", "due_on"),
        Column(
            _("sent"),
            lambda r: written_moment(r.sent_at) if r.sent_at else "",
            "date",
            "sent_at",
            name="sent_utc",
            plain=lambda r: r.sent_at,
        ),
        Column(_("why put off, or not sent"), lambda r: r.snooze_reason or r.last_error, "long"),
    )

    def rows(self) -> QuerySet[Reminder]:
        return selectors.all_reminders()

    def shown_lead(self, filterset: filters.FilterSet) -> str:
        count = Reminder.objects.filter(state=State.SENT, acknowledged_at=None).count()
        if not count:
            return gettext(
                "Every reminder that was sent is answered. Open one to acknowledge it or to put it off."
            )
        return ngettext(
            "{count} sent and not answered. Open one to acknowledge it or to put it off.",
            "{count} sent and not answered. Open one to acknowledge it or to put it off.",
            count,
        ).format(count=count)


class ReminderPage(Page):
    """One reminder, and what can be answered. ``answer`` in the form says which of the two it is."""

    needs = "licences.view_reminder"
    act = _("reading a reminder")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        return self.shown(request, self.subject(pk), PutOffForm())

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        reminder, person = self.subject(pk), cast(Person, request.user)
        if not reminders.may_answer(person, reminder):
            raise PermissionDenied(
                gettext(
                    "This reminder went to {recipient}. Only they, a registrar, a manager or an "
                    "administrator can answer it."
                ).format(recipient=reminder.recipient)
            )
        form, status = PutOffForm(request.POST), 422
        try:
            if request.POST.get("answer") == "acknowledge":
                reminders.acknowledge(reminder, by=person, author=Author.of(person))
                messages.success(
                    request, gettext("Acknowledged. The next reminder of this licence still comes.")
                )
                return redirect(page_of(reminder))
            if form.is_valid():
                until, reason = form.cleaned_data["until"], form.cleaned_data["reason"]
                reminders.put_off(reminder, until, reason, author=Author.of(person))
                messages.success(request, gettext("Put off until {until}.").format(until=written_day(until)))
                return redirect(page_of(reminder))
        except RegisterError as error:
            status = error.status if error.status == 409 else 422
            form.take_error(error)
        return self.shown(request, self.subject(pk), form, status)

    def subject(self, pk: int) -> Reminder:
        rows = selectors.all_reminders().select_related(
            "licence__authority__renewal_policy", "licence__holder"
        )
        return get_object_or_404(rows, pk=pk)

    def shown(
        self, request: HttpRequest, reminder: Reminder, form: PutOffForm, status: int = 200
    ) -> HttpResponse:
        may = reminders.may_answer(request.user, reminder)
        context = {"form": form, "may": may, **about(reminder)}
        return render(request, "reminder.html", context, status=status)


def about(reminder: Reminder) -> dict[str, Any]:
    """What a page says about a reminder and its answers."""
    today = clock_of(reminder.recipient, timezone.now()).date()
    return {
        "reminder": reminder,
        "what": said(reminder, today)[1],
        "stands": reminders.in_words(reminder),
        "last_day": reminders.latest_day(reminder, today),
        "answered": reminder.acknowledged_at is not None,
        "over": reminder.state == State.OVERTAKEN,
        "can_put_off": reminder.acknowledged_at is None
        and reminder.state in (State.WAITING, State.SENT, State.SNOOZED),
    }


class MySettings(Page):
    """How the person who is signed in wants reminders, and their calendar's address."""

    def get(self, request: HttpRequest) -> HttpResponse:
        return self.shown(request, self.form(request))

    def post(self, request: HttpRequest) -> HttpResponse:
        form = self.form(request, request.POST)
        status = 422
        if form.is_valid():
            try:
                keep(form.instance, form.cleaned_data["time_zone"], expected_version=form.expected_version)
            except ValidationError as error:
                form.take_error(error)
            except RegisterError as error:
                status = error.status
                form.take_error(error)
            else:
                messages.success(request, gettext("Your settings are kept."))
                return redirect("reminder-settings")
        return self.shown(request, form, status)

    def form(self, request: HttpRequest, data: Any = None) -> ReminderSettingsForm:
        return ReminderSettingsForm(data, instance=settings_of(cast(Person, request.user)))

    def shown(self, request: HttpRequest, form: ReminderSettingsForm, status: int = 200) -> HttpResponse:
        person = cast(Person, request.user)
        stored = settings_of(person)
        context = {
            "form": form,
            "calendar": calendar_address(stored),
            "licence_count": selectors.all_licences().filter(responsible=person).count(),
            "waiting": selectors.unanswered(person).count(),
        }
        return render(request, "reminder_settings.html", context, status=status)


class CalendarRenew(Page):
    """A calendar gets its address, or a new one."""

    def post(self, request: HttpRequest) -> HttpResponse:
        renew_address(cast(Person, request.user))
        messages.success(
            request, gettext("The calendar has a new address. An earlier one no longer answers.")
        )
        return redirect("reminder-settings")
