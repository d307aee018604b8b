"""What goes wrong with licence and frequency records: the lines on life, renewal, notices, fees, holders.

Each line is from public enforcement notices and regulators' pages (the FCC's DA numbers name the public record);
each test carries the line's own words as its name and shows that the register catches it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from licences import selectors
from licences.life import Step, Taken, allowed_steps, coming_days
from licences.models import Licence, LicensedChannel, Reminder
from licences.services.life import Told, end_channel_alone, take_step
from licences.services.reminders.planning import plan
from licences.standing import Standing
from sites.errors import RegisterError
from sites.services import record
from spectrum.models import Finding, Link, Station
from spectrum.services.checks import check_network
from spectrum.services.filing import needs_filing
from tests.made import DAY, TESTS, TODAY, Register, person, site

pytestmark = pytest.mark.django_db


def findings(day: dt.date = TODAY) -> dict[tuple[str, str], str]:
    check_network(as_of=day)
    return {(f.kind, f.station_label): f.severity for f in Finding.objects.filter(gone_at=None)}


def on_the_air(register: Register, licence: Licence) -> tuple[Link, LicensedChannel]:
    """A link on the air whose end A relies on the only channel of the licence that is used."""
    here, there = site("S1"), site("S2", 47.1, 14.1)
    channel = register.channel(licence, "1", site=here, power_limit_dbm=45.0, power_kind="erp")
    link = register.link("K-1", here, there, status=Link.Status.ON_AIR)
    sender = Station.objects.get(link=link, label="A")
    sender.licensed_channel = channel
    record.change(sender, by=TESTS)
    return link, channel


def enter(licence: Licence, step: Step, on: dt.date, told: Told | None = None, **more: Any) -> None:
    stored = Licence.objects.get(pk=licence.pk)
    take_step(stored, Taken(step=step, on=on, **more), by=TESTS, told=told or Told(), today=TODAY)


def test_1_stations_expired_unnoticed_for_two_years() -> None:
    """DA-07-1602, DA-07-1433: a responsible person, a window, reminders; operating after expiry is an alarm."""
    register = Register()
    remi = person("remi")
    licence = register.licence("L 1", responsible=remi, expires_on=TODAY + 120 * DAY)
    on_the_air(register, licence)
    assert findings()["renewal_due", ""] == "decide"
    plan(dt.datetime.combine(TODAY, dt.time(12), tzinfo=dt.UTC))
    assert list(Reminder.objects.values_list("recipient", "step")) == [(remi.pk, "window_opens")]
    late = findings(TODAY + 121 * DAY)
    assert (late["licence_expired", ""], late["licence_expired", "A"]) == ("must_fix", "must_fix")


def test_2_an_unpaid_fee_cancelled_a_licence() -> None:
    """Fee due dates are dates to be reminded of too."""
    licence = Register().licence("L 2", fee_due_on=TODAY + 20 * DAY)
    assert [day.on for day in selectors.coming_days_of(licence) if day.kind == "fee"] == [TODAY + 20 * DAY]
    assert list(selectors.fees_due(TODAY + 30 * DAY)) == [licence]
    assert findings()["fee_due", ""] == "decide"
    assert findings(TODAY + 21 * DAY)["fee_due", ""] == "must_fix"
    enter(licence, Step.PAY_FEE, TODAY)
    assert ("fee_due", "") not in findings(TODAY + 21 * DAY)


def test_2_a_lapsed_licence_is_none_for_the_stations_that_rely_on_it() -> None:
    register = Register()
    licence = register.licence("L 2", fee_due_on=TODAY - 60 * DAY)
    on_the_air(register, licence)
    enter(licence, Step.LAPSE, TODAY)
    assert findings()["station_without_licence", "A"] == "must_fix"


def test_3_built_in_time_but_the_notice_of_construction_came_late() -> None:
    """DA-13-1661: bring-into-use date and notification date are two dates; the proof is kept."""
    licence = Register().licence(
        "L 3", bring_into_use_by=TODAY + 5 * DAY, use_notice_by=TODAY + 20 * DAY, granted_on=TODAY - 360 * DAY,
        in_force_from=TODAY - 350 * DAY,
    )  # fmt: skip
    enter(licence, Step.BRING_INTO_USE, TODAY - DAY, Told(proof="commissioning sheet 12"))
    found = findings()
    assert ("bring_into_use_near", "") not in found
    assert found["use_notice_due", ""] == "decide"
    assert findings(TODAY + 21 * DAY)["use_notice_due", ""] == "must_fix"
    enter(licence, Step.NOTIFY_USE, TODAY, Told(proof="registered mail 44"))
    assert ("use_notice_due", "") not in findings(TODAY + 21 * DAY)
    assert [e.proof for e in licence.events.order_by("pk")] == [
        "commissioning sheet 12",
        "registered mail 44",
    ]


def test_4_a_regulator_ends_one_frequency_of_a_licence_and_leaves_the_rest() -> None:
    """DA-06-45: status per licensed channel, not only per licence."""
    register = Register()
    licence = register.licence("L 4")
    _, channel = on_the_air(register, licence)
    other = register.channel(licence, "2", site=site("S9"), frequency_hz=411_000_000)
    end_channel_alone(channel, Taken(step=Step.CANCEL, on=TODAY), by=TESTS)
    assert findings()["station_without_licence", "A"] == "must_fix"
    assert selectors.standing_on(Licence.objects.get(pk=licence.pk), TODAY) is Standing.IN_FORCE
    assert LicensedChannel.objects.get(pk=other.pk).ended_on is None


def test_5_extensions_cannot_be_asked_for_after_the_deadline() -> None:
    """Warn before the last filing day, not on it; after it a filing is refused with the reason."""
    register = Register()
    policy = register.authority.renewal_policy
    policy.last_filing_days = 30
    record.change(policy, by=TESTS)
    licence = register.licence("L 5", expires_on=TODAY + 60 * DAY)
    last = TODAY + 30 * DAY
    assert findings(last - 30 * DAY)["renewal_due", ""] == "must_fix"
    with pytest.raises(RegisterError, match=f"last filing day was {last}"):
        take_step(
            licence, Taken(step=Step.FILE_RENEWAL, on=last + DAY), by=TESTS, today=last + DAY
        )  # fmt: skip


def test_8_operating_from_another_place_than_licensed_or_before_the_grant() -> None:
    """DA-08-1187, DA-08-598: a move is checked against the licence before it happens, a start before the grant too."""
    register = Register()
    licence = register.licence(
        "application 8", applied_on=TODAY - 30 * DAY, granted_on=None, in_force_from=None, expires_on=None
    )
    link, _ = on_the_air(register, licence)
    assert findings()["station_without_licence", "A"] == "must_fix"
    enter(licence, Step.GRANT, TODAY, until=TODAY + 900 * DAY)
    assert ("station_without_licence", "A") not in findings()
    a, b = Station.objects.filter(link=link).order_by("label")
    a.site = site("S3", 47.01, 14.0)
    asked = needs_filing(link, [a, b], as_of=TODAY)
    assert asked.verdict.value == "new_grant"
    assert "position" in [reason.quantity for reason in asked.stations[0].reasons]


def test_9_licences_not_transferred_after_a_merger() -> None:
    """The history of holders stands on the licence; on each day it is known who held it."""
    register = Register()
    licence = register.licence("L 9", holder=register.other)
    enter(licence, Step.TRANSFER, TODAY - 10 * DAY, holder_id=register.own.pk)
    stored = Licence.objects.select_related("holder").get(pk=licence.pk)
    assert [held.holder for held in selectors.holders_of(stored)] == [register.other, register.own]
    assert selectors.life_on(stored, TODAY - 11 * DAY).holder_id == register.other.pk
    assert selectors.life_on(stored, TODAY - 10 * DAY).holder_id == register.own.pk


def test_9_small_changes_never_filed_for_years() -> None:
    """A change of power, antenna or frequency says whether it needs filing; small ones add up from what is licensed."""
    register = Register()
    policy = register.authority.renewal_policy
    policy.filing_rules = [{"quantity": "antenna_height", "more_than": 3, "needs": "new_grant"}]
    record.change(policy, by=TESTS)
    link, channel = on_the_air(register, register.licence("L 9"))
    channel.antenna_height_max_m = 20.0
    record.change(channel, by=TESTS)
    needs = []
    for height_m in (20.0, 22.0, 24.0):
        a, b = Station.objects.filter(link=link).order_by("label")
        a.antenna_height_agl_m = height_m
        needs.append(needs_filing(link, [a, b], as_of=TODAY).verdict.value)
        record.change(a, by=TESTS)
    assert needs == ["within", "notice", "new_grant"]


def test_10_surrender_is_a_first_class_act() -> None:
    """Stations that do not exist block good frequencies: a surrender is a step with its day, whole or of one channel."""
    register = Register()
    licence = register.licence("L 10")
    register.channel(licence, "1", site=site("S1"))
    assert findings()["channel_unused", ""] == "note"
    enter(licence, Step.SURRENDER, TODAY, Told(proof="form 12"))
    assert ("channel_unused", "") not in findings()
    stored = Licence.objects.get(pk=licence.pk)
    assert selectors.standing_on(stored, TODAY) is Standing.SURRENDERED
    assert selectors.coming_days_of(stored) == []


def test_14_some_licences_cannot_be_renewed_or_only_on_conditions() -> None:
    """Renewal terms are data, of the authority and of the single licence."""
    register = Register()
    never = register.licence("L 14", expires_on=TODAY + 30 * DAY, renewal="not_renewable")
    offered = allowed_steps(never.life, selectors.terms_of(never), TODAY)
    assert "cannot be renewed" in offered[Step.FILE_RENEWAL]
    assert ("renewal_due", "") not in findings()
    bound = register.licence(
        "L 15", renewal="on_conditions", renewal_conditions="in use within the last year"
    )
    assert selectors.terms_of(bound).conditions == "in use within the last year"
    open_to_all = replace(selectors.terms_of(never), renewable=True)
    assert "window_opens" in [day.kind for day in coming_days(never.life, open_to_all)]
