"""Steps, standings, reminders and their mails in the language of whoever reads; what is recorded in none."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import pytest
from django.utils import translation

from licences.applying import Act, State, StepError, completeness, next_state, unknown_fields
from licences.applying.fields import FIELDS
from licences.life import Life, Step, Terms, Topic, allowed_steps, broken_invariants, coming_days
from licences.models import Licence, Reminder
from licences.services import reminders
from licences.services.reminders.letter import letter
from licences.services.reminders.wording import line_of
from licences.standing import Standing
from sites.models import ChangeRecord, Person
from sites.reading import as_read_by
from sites.saying import said
from sites.services import record
from sites.services.record import Author
from tests.in_brackets import left_out
from tests.licences.reminders.conftest import authority, mira, new_licence, ours
from tests.licences.reminders.made import BY, EXPIRES, at

__all__ = ["authority", "mira", "new_licence", "ours"]

TODAY = dt.date(2026, 6, 1)
APPLIED = Life(applied_on=dt.date(2025, 1, 1))
GRANTED = Life(
    granted_on=dt.date(2020, 1, 1),
    in_force_from=dt.date(2020, 1, 1),
    expires_on=dt.date(2026, 12, 31),
    fee_due_on=dt.date(2026, 7, 1),
    bring_into_use_by=dt.date(2027, 1, 1),
    use_notice_by=dt.date(2027, 2, 1),
)
LIVES = {
    "applied for": APPLIED,
    "granted": GRANTED,
    "without an end": replace(GRANTED, expires_on=None, fee_due_on=None),
    "in use": replace(GRANTED, brought_into_use_on=dt.date(2020, 2, 1), use_notified_on=dt.date(2020, 2, 2)),
    "filed": replace(GRANTED, renewal_filed_on=dt.date(2026, 5, 1)),
    "filed and expired": replace(
        GRANTED, expires_on=dt.date(2026, 4, 30), renewal_filed_on=dt.date(2026, 4, 1), fee_due_on=None
    ),
    "refused without a filing": replace(GRANTED, ended_on=dt.date(2026, 1, 1), ended_how="refused"),
    "to expire": replace(GRANTED, let_expire_on=dt.date(2026, 5, 1)),
    "ended": replace(GRANTED, ended_on=dt.date(2026, 1, 1), ended_how="surrendered"),
    "ended somehow": replace(GRANTED, ended_on=dt.date(2026, 1, 1)),
    "expired": replace(GRANTED, expires_on=dt.date(2025, 12, 31), fee_due_on=None),
    "in the wrong order": replace(
        GRANTED, granted_on=dt.date(2030, 1, 1), renewal_filed_on=dt.date(2031, 1, 1)
    ),
}


@pytest.mark.parametrize("name", LIVES)
def test_why_a_step_is_not_possible(name: str, pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        said = allowed_steps(LIVES[name], Terms(), TODAY).values()
        broken = broken_invariants(LIVES[name], Terms())
        coming = [day.what for day in coming_days(LIVES[name], Terms())]
        assert any(said)
        assert [text for text in (*said, *broken, *coming) if left_out(text)] == []


def test_names_of_steps_standings_and_topics(pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        said = [one.words for kind in (Step, Standing, Topic, State) for one in kind]
        said += [step.done for step in Step]
        assert [text for text in said if left_out(text)] == []
    assert "⟦" not in "".join(step.words for step in Step)


def test_what_an_application_lacks_and_cannot(pseudo_language: str) -> None:
    with translation.override(pseudo_language):
        lines = completeness(FIELDS, {})
        assert [
            line for line in lines if left_out(line.title + line.notation + line.note + line.missing)
        ] == []
        assert left_out(said(unknown_fields(["colour"]))) == left_out(said(unknown_fields("colour"))) == ""
        for state, act in ((State.DRAFTING, Act.GRANT), (State.FILED, Act.FILE), (State.GRANTED, Act.FILE)):
            with pytest.raises(StepError) as caught:
                next_state(state, act)
            assert left_out(caught.value) == ""


@pytest.mark.django_db
class TestReminders:
    @pytest.fixture
    def reader(self, mira: Person, pseudo_language: str) -> Person:
        mira.language = pseudo_language
        return record.change(mira, by=BY)

    @pytest.mark.parametrize(
        ("fields", "day"),
        [
            ({}, "2026-10-05"),
            ({}, "2026-11-01"),
            ({}, "2026-12-15"),
            ({}, "2027-01-02"),
            ({"renewal": "not_renewable"}, "2026-12-20"),
            ({"fee_due_on": dt.date(2026, 11, 20), "yearly_fee": 100, "fee_currency": "EUR"}, "2026-11-19"),
            ({"fee_due_on": dt.date(2026, 11, 20)}, "2026-11-22"),
            ({"bring_into_use_by": dt.date(2026, 11, 20)}, "2026-11-22"),
            ({"use_notice_by": dt.date(2026, 11, 20)}, "2026-11-22"),
        ],
    )
    def test_the_sentences_of_a_mail(
        self, fields: dict[str, object], day: str, new_licence: Callable[..., Licence], reader: Person
    ) -> None:
        licence = new_licence(**fields)
        for topic_step, about in (
            (Reminder.Step.BEFORE_EXPIRY, licence.expires_on),
            (Reminder.Step.FEE, licence.fee_due_on),
            (Reminder.Step.BRING_INTO_USE, licence.bring_into_use_by),
            (Reminder.Step.USE_NOTICE, licence.use_notice_by),
        ):
            if about is not None:
                Reminder.objects.create(
                    licence=licence, recipient=reader, step=topic_step, about_on=about, act_by=about,
                    due_on=about, ready_on=about, escalated=topic_step == Reminder.Step.FEE,
                )  # fmt: skip
        due = list(Reminder.objects.select_related("licence__authority__renewal_policy", "licence__holder"))
        with as_read_by(reader):
            mail = letter(due, at(day))
        assert left_out(mail.subject) == ""
        assert "⟦" in mail.subject
        with as_read_by(reader):
            lines = [line_of(each, dt.date.fromisoformat(day)) for each in due]
        assert [line for line in lines if left_out(line.what) or left_out(line.told)] == []
        assert all(line.what in str(mail.body) for line in lines)

    def test_each_step_in_words(self, new_licence: Callable[..., Licence], reader: Person) -> None:
        licence = new_licence()
        for step in Reminder.Step:
            for days in (0, 1, 30, -2):
                row = Reminder(licence=licence, step=step, days_before=days, due_on=EXPIRES)
                with as_read_by(reader):
                    assert left_out(row.step_words) == ""

    def test_an_answer_is_recorded_in_no_language(
        self, new_licence: Callable[..., Licence], reader: Person
    ) -> None:
        licence = new_licence()
        row = Reminder.objects.create(
            licence=licence, recipient=reader, step="before_last_day", days_before=30, about_on=EXPIRES,
            act_by=dt.date(2026, 12, 1), due_on=dt.date(2026, 11, 1), ready_on=dt.date(2026, 11, 1), state="sent",
        )  # fmt: skip
        with as_read_by(reader):
            reminders.put_off(
                row, dt.date(2026, 11, 12), "Waiting.", author=Author.of(reader), now=at("2026-11-02")
            )
            row.refresh_from_db()
            assert reminders.in_words(row) == "⟦put off until 2026-11-12⟧"
        entry = (
            ChangeRecord.objects.filter(object_type="licences.licence", object_id=licence.pk)
            .order_by("id")
            .last()
        )
        assert entry is not None
        assert entry.changes == {
            "reminder 30 days before the last filing day (2026-12-31)": ["sent", "put off until 2026-11-12"]
        }


@pytest.mark.django_db
def test_a_channel_outside_its_licence_is_refused_at_the_right_field(
    new_licence: Callable[..., Licence], pseudo_language: str
) -> None:
    from licences.models import LicensedChannel

    licence = new_licence()
    early = LicensedChannel(licence=licence, in_force_from=dt.date(2019, 1, 1))
    late = LicensedChannel(licence=licence, expires_on=dt.date(2030, 1, 1))
    with translation.override(pseudo_language):
        assert [*early.outside_licence_dates()] == ["in_force_from"]
        assert [*late.outside_licence_dates()] == ["expires_on"]
        assert left_out("".join(map(str, early.outside_licence_dates().values()))) == ""
