"""The life of a licence on its page: its days, what was entered, what can be entered now; and the form of a step."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, cast

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences import selectors
from licences.forms.steps import StepForm
from licences.life import Step, allowed_steps
from licences.life.days import lapses_on, renewal_of
from licences.life.records import CHANNEL_STEPS
from licences.models import Licence, LicensedChannel
from licences.services.life import end_channel_alone, take_step
from sites.errors import RegisterError
from sites.reading import day_here, written_day
from sites.services.record import Author, as_register_error
from sites.views.access import Page
from sites.views.addresses import page_of

CAUTIONS = {
    Step.SURRENDER: _(
        "From its first day without it nothing may be transmitted under it. Switch off first; "
        "a frequency that was given back may be given to somebody else."
    ),
    Step.CANCEL: _("From its first day without it nothing may be transmitted under it."),
    Step.LAPSE: _("From its first day without it nothing may be transmitted under it."),
    Step.REFUSE_RENEWAL: _(
        "After its last day, and at once where that is past, nothing may be transmitted under it."
    ),
    Step.LET_EXPIRE: _("Its reminders stop. After its last day nothing may be transmitted under it."),
    Step.BRING_INTO_USE: _("This records a fact; it is no permission to transmit. The licence comes first."),
    Step.CORRECT: _(
        "A correction is for what was entered wrongly and holds for the past too. "
        "What has changed since is a step of its own."
    ),
}

#: After these nothing may be transmitted under it any more.
ENDING = (Step.SURRENDER, Step.CANCEL, Step.LAPSE, Step.LET_EXPIRE)


@dataclass(frozen=True)
class Offer:
    """A step on the page: whether it can be entered now, and if not, why."""

    step: Step
    why_not: str

    @property
    def words(self) -> str:
        return self.step.words


def offers(licence: Licence, today: dt.date) -> list[Offer]:
    """Every step of a whole licence, in the order in which a licence lives."""
    answers = allowed_steps(licence.life, selectors.terms_of(licence), today)
    return [Offer(step, answers[step]) for step in Step]


def life_context(licence: Licence, today: dt.date) -> dict[str, Any]:
    """What the page of a licence shows of its life."""
    terms, life = selectors.terms_of(licence), licence.life
    events = list(selectors.events_of(licence))
    steps = offers(licence, today)
    coming = [one for one in selectors.coming_days_of(licence) if one.kind != "expires"]
    return {
        "terms": terms,
        "events": events,
        "offered": [one for one in steps if not one.why_not],
        "not_offered": [one for one in steps if one.why_not],
        "holders": selectors.holders_of(licence),
        "coming": [(one, (one.on - today).days) for one in coming],
        "fee_lapses_on": lapses_on(life, terms),
        "days": _days(licence, events),
    }


def _days(licence: Licence, events: list[Any]) -> list[tuple[str, dt.date | None]]:
    """The days of the strip: what stands in the register, what follows from it, and steps that left no date."""
    renewal = renewal_of(licence.life, selectors.terms_of(licence))
    days = [
        (gettext("applied for"), licence.applied_on),
        (gettext("granted"), licence.granted_on),
        (gettext("in force from"), licence.in_force_from),
        (gettext("bring into use by"), licence.bring_into_use_by),
        (gettext("brought into use"), licence.brought_into_use_on),
        (gettext("notice of use by"), licence.use_notice_by),
        (gettext("use notified"), licence.use_notified_on),
        (gettext("renewal window opens"), renewal.window_opens_on if renewal else None),
        (gettext("last filing day"), renewal.last_filing_on if renewal else None),
        (gettext("renewal filed"), licence.renewal_filed_on),
        (gettext("to expire: decided"), licence.let_expire_on),
        (gettext("fee due"), licence.fee_due_on),
        (gettext("expires"), licence.expires_on),
        (licence.get_ended_how_display() if licence.ended_how else gettext("ended"), licence.ended_on),
    ]
    kept = (Step.RENEW, Step.REFUSE_RENEWAL, Step.TRANSFER)
    return days + [(event.get_step_display(), event.on) for event in events if event.step in kept]


def step_named(name: str) -> Step:
    try:
        return Step(name)
    except ValueError as error:
        raise Http404(f"There is no step {name!r} in the life of a licence.") from error


class LicenceStep(Page):
    """The form of a step of a whole licence; where the step is not possible now, the sentence why."""

    needs = "licences.add_licenceevent"
    act = _("entering a step in the life of a licence")

    def subject(self, pk: int) -> Licence | LicensedChannel:
        rows = selectors.all_licences().select_related("authority__renewal_policy")
        return get_object_or_404(rows, pk=pk)

    def why_not(self, about: Any, step: Step) -> str:
        licence = cast(Licence, about)
        return allowed_steps(licence.life, selectors.terms_of(licence), day_here())[step]

    def get(self, request: HttpRequest, pk: int, step: str) -> HttpResponse:
        about, kind = self.subject(pk), step_named(step)
        form = self.form(kind, initial={"on": day_here(), "version": about.version})
        return self.shown(request, about, form)

    def post(self, request: HttpRequest, pk: int, step: str) -> HttpResponse:
        about, kind = self.subject(pk), step_named(step)
        form, status = self.form(kind, request.POST), 422
        if form.is_valid():
            try:
                event = self.taken(about, form, Author.of(request.user))
            except ValidationError as error:
                form.take_error(as_register_error(error))
            except RegisterError as error:
                status = error.status
                form.take_error(error)
            else:
                messages.success(request, gettext("{event} is in the register.").format(event=event))
                return redirect(page_of(about))
        return self.shown(request, about, form, status)

    def form(self, step: Step, data: Any = None, **kwargs: Any) -> StepForm:
        return StepForm(step, data, **kwargs)

    def taken(self, about: Any, form: StepForm, by: Author) -> Any:
        return take_step(
            about,
            form.taken(),
            by=by,
            told=form.told(),
            expected_version=form.cleaned_data["version"],
            today=day_here(),
        )

    def shown(self, request: HttpRequest, about: Any, form: StepForm, status: int = 200) -> HttpResponse:
        context = {
            "about": about,
            "form": form,
            "step": form.step,
            "why_not": self.why_not(about, form.step),
            "caution": CAUTIONS.get(form.step, ""),
            "ends": form.step in ENDING,
            "back": page_of(about),
            "of_channel": isinstance(about, LicensedChannel),
        }
        return render(request, "licence_step.html", context, status=status)


class LicensedChannelStep(LicenceStep):
    """Surrender or cancellation of one channel; the rest of its licence stays."""

    act = _("ending a licensed channel")

    def subject(self, pk: int) -> Licence | LicensedChannel:
        return get_object_or_404(selectors.all_licensed_channels(), pk=pk)

    def why_not(self, about: Any, step: Step) -> str:
        channel = cast(LicensedChannel, about)
        if step not in CHANNEL_STEPS:
            return gettext("“{step}” is a step of the whole licence, not of one channel.").format(
                step=step.words
            )
        if channel.ended_on is None:
            return ""
        return gettext("The channel ended on {day} already.").format(day=written_day(channel.ended_on))

    def taken(self, about: Any, form: StepForm, by: Author) -> Any:
        return end_channel_alone(
            about, form.taken(), by=by, told=form.told(), expected_version=form.cleaned_data["version"]
        )
