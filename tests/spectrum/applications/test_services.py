"""Applications are drawn up, filed, granted, refused and withdrawn; what is written with each is recorded, or nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.core.exceptions import ValidationError
from django.db.models import ProtectedError

from licences.models import Application, Licence, LicensedChannel
from sites.errors import RegisterError, StaleWriteError
from sites.models import ChangeRecord
from sites.services import record
from spectrum import selectors
from spectrum.models import ApplicationLink, FiledStation, Link
from spectrum.services import applications, checks, reservations
from spectrum.services.links import save_link
from tests.made import DAY, TESTS, TODAY, person, site
from tests.spectrum.applications.made import FILED_ON, GRANTED_ON, WHY, Desk, desk, terms

pytestmark = pytest.mark.django_db


@pytest.fixture
def at() -> Desk:
    return desk()


def test_a_link_is_in_one_open_application_only(at: Desk) -> None:
    at.draft()
    with pytest.raises(
        RegisterError, match="L-1 is in application A-2026-001 already, which is being drawn up"
    ):
        at.draft(number="A-2026-002")
    assert not Application.objects.filter(number="A-2026-002").exists()


def test_only_what_needs_a_licence_and_is_ours_is_filed(at: Desk) -> None:
    register = at.register
    others = register.link("O-1", site("S3"), site("S4", 47.3), holder=register.other)
    lapsed = register.link("L-2", site("S5"), site("S6", 47.4), status="lapsed")
    channel = register.channel(register.licence("LIC-1"), site=site("S0"))
    licensed = register.link(
        "L-3", site("S7"), site("S8", 47.5), stations={"licensed_channel": channel}, status="on_air"
    )
    for link, said in (
        (others, "O-1 is a link of Other party"),
        (lapsed, "Take its pair again first"),
        (licensed, "Every transmitting station of L-3 has a licensed channel"),
    ):
        with pytest.raises(RegisterError, match=said):
            at.draft(link)
    assert not ApplicationLink.objects.exists()


def test_links_are_added_and_taken_out_while_it_is_drawn_up(at: Desk) -> None:
    second = at.register.link("L-2", site("S3"), site("S4", 47.3))
    application = at.draft()
    applications.add_links(application, [second], by=TESTS, today=TODAY)
    applications.take_out(application, at.link, by=TESTS)
    assert [row.link.code for row in ApplicationLink.objects.all()] == ["L-2"]
    with pytest.raises(RegisterError, match="L-1 is not in application"):
        applications.take_out(application, at.link, by=TESTS)


def test_filing_keeps_what_was_asked_and_holds_the_pair_without_a_last_day(at: Desk) -> None:
    application = at.filed()
    assert (application.state, application.filed_on) == ("filed", FILED_ON)
    assert [kept.label for kept in FiledStation.objects.order_by("id")] == ["A", "B"]
    link = Link.objects.get()
    assert (link.status, link.reserved_until) == ("filed", None)
    assert reservations.lapse_expired(TODAY + 4000 * DAY).codes == []

    stations = list(link.stations.all())
    for station in stations:
        station.tx_power_dbm = 30.0
    save_link(link, stations, by=TESTS)
    kept = FiledStation.objects.order_by("id")[0]
    assert kept.figures["tx_power_dbm"] == 37.0


def test_a_filed_pair_neither_lapses_nor_is_extended_nor_released(at: Desk) -> None:
    at.filed()
    link = Link.objects.get()
    link.reserved_until = TODAY - DAY  # typed into the link's form by somebody
    record.change(link, by=TESTS)
    assert reservations.lapse_expired(TODAY).codes == []
    with pytest.raises(RegisterError, match="until the authority decides"):
        reservations.extend(link, TODAY + DAY, by=TESTS, as_of=TODAY)
    with pytest.raises(RegisterError, match="Withdraw the application"):
        reservations.release(link, by=TESTS)


def test_what_was_not_checked_or_must_be_fixed_is_filed_only_with_a_reason(at: Desk) -> None:
    application = at.draft()
    with pytest.raises(RegisterError, match="L-1 has not been checked") as refused:
        applications.file(application, by=TESTS, filed_on=FILED_ON, today=TODAY)
    assert refused.value.field == "despite"
    assert Link.objects.get().status == "planned"
    checks.check_link(at.link.pk, by=TESTS)
    filed = applications.file(application, by=TESTS, filed_on=FILED_ON, today=TODAY)
    assert filed.state == "filed"


def test_a_missing_field_keeps_it_from_being_filed_and_says_where_it_is_entered(at: Desk) -> None:
    place = at.link.stations.get(label="A").site
    place.ground_height_m = None
    record.change(place, by=TESTS)
    application = at.draft(contact="")
    with pytest.raises(RegisterError, match=r"2 fields are missing\. Missing: responsible contact"):
        applications.file(application, by=TESTS, filed_on=FILED_ON, today=TODAY, despite=WHY)
    application.contact = "Somebody"
    applications.change(application, by=TESTS)
    with pytest.raises(
        RegisterError, match=r"ground height \(m above mean sea level\). Enter it at site S1."
    ):
        applications.file(application, by=TESTS, filed_on=FILED_ON, today=TODAY, despite=WHY)
    assert not FiledStation.objects.exists()


def test_it_cannot_be_filed_tomorrow_nor_empty(at: Desk) -> None:
    application = at.draft()
    with pytest.raises(RegisterError, match="lies in the future"):
        applications.file(application, by=TESTS, filed_on=TODAY + DAY, today=TODAY, despite=WHY)
    applications.take_out(application, at.link, by=TESTS)
    with pytest.raises(RegisterError, match="It is for no link"):
        applications.file(application, by=TESTS, filed_on=TODAY, today=TODAY, despite=WHY)


def test_a_grant_becomes_licence_and_channels_without_re_typing(at: Desk) -> None:
    application = at.filed()
    applications.grant(application, terms(application), by=TESTS, today=TODAY)

    licence = Licence.objects.get()
    assert (str(licence), licence.holder, licence.application) == ("AUT LIC-7", at.register.own, application)
    channels = {channel.label: channel for channel in LicensedChannel.objects.all()}
    assert channels.keys() == {"L-1 A", "L-1 B"}
    a, b = channels["L-1 A"], channels["L-1 B"]
    assert (a.frequency_hz, b.frequency_hz, b.paired_with) == (410_000_000, 420_000_000, a)
    assert (a.power_kind, a.power_limit_dbm) == ("eirp", 43.0)  # 37 dBm less 0 dB plus 6 dBi
    link = Link.objects.get()
    assert (link.status, link.reserved_until) == ("granted", None)
    assert {s.label: s.licensed_channel for s in link.stations.all()} == {"A": a, "B": b}
    checks.check_link(link.pk, by=TESTS)
    limits = [
        f.kind for f in selectors.findings_of_link(link) if f.kind.startswith(("licence_", "station_without"))
    ]
    assert limits == []


def test_the_links_show_what_is_off_where_the_authority_granted_otherwise(at: Desk) -> None:
    application = at.filed()
    granted = terms(application, frequency_hz=410_025_000, power_limit_dbm=40.0)
    applications.grant(application, granted, by=TESTS, today=TODAY)
    checks.check_link(at.link.pk, by=TESTS)
    found = {(f.kind, f.station_label): f for f in selectors.findings_of_link(at.link)}
    # 410.000 MHz sent, 410.025 MHz granted; 43 dBm e.i.r.p. sent, 40 dBm granted
    assert found["licence_frequency", "A"].margin == pytest.approx(-25.0)
    assert found["licence_power", "A"].margin == pytest.approx(-3.0)
    assert ("licence_power", "B") in found


def test_two_licences_where_the_authority_numbers_each_link(at: Desk) -> None:
    second = at.register.link("L-2", site("S3"), site("S4", 47.3), status="on_air")
    application = at.filed(at.link, second)
    granted = terms(application)
    of_second = FiledStation.objects.filter(application_link__link=second).values_list("pk", flat=True)
    for pk in of_second:
        object.__setattr__(granted.channels[pk], "licence_number", "LIC-8")
    granted = type(granted)(
        **{f: getattr(granted, f) for f in granted.__dataclass_fields__ if f != "numbers"}
    )
    applications.grant(application, granted, by=TESTS, today=TODAY)
    assert sorted(Licence.objects.values_list("number", flat=True)) == ["LIC-7", "LIC-8"]
    assert LicensedChannel.objects.filter(licence__number="LIC-8").count() == 2


def test_a_grant_recorded_twice_makes_one_licence(at: Desk) -> None:
    application = at.filed()
    granted = terms(application)
    applications.grant(application, granted, by=TESTS, today=TODAY)
    entries = ChangeRecord.objects.count()
    again = applications.grant(application, granted, by=TESTS, today=TODAY)
    assert again.state == "granted"
    assert ChangeRecord.objects.count() == entries
    assert (Licence.objects.count(), LicensedChannel.objects.count()) == (1, 2)
    with pytest.raises(RegisterError, match="was granted on 2026-05-30 already, as licence LIC-7"):
        applications.grant(application, terms(application, number="LIC-9"), by=TESTS, today=TODAY)


def test_a_grant_that_the_register_refuses_leaves_nothing_behind(at: Desk) -> None:
    application = at.filed()
    with pytest.raises(RegisterError, match=r"L-1/A: ") as refused:
        applications.grant(
            application, terms(application, emission_designators=["soup"]), by=TESTS, today=TODAY
        )
    assert "emission_designators" in refused.value.field
    at.register.licence("LIC-7")
    with pytest.raises(ValidationError, match="number is in the register already"):
        applications.grant(application, terms(application), by=TESTS, today=TODAY)
    application.refresh_from_db()
    assert application.state == "filed"
    assert not LicensedChannel.objects.exists()
    assert Link.objects.get().status == "filed"


@pytest.mark.parametrize("day", [FILED_ON - DAY, TODAY + DAY])
def test_a_decision_falls_between_filing_and_today(at: Desk, day: dt.date) -> None:
    application = at.filed()
    granted = terms(application, grant_granted_on=day, grant_in_force_from=day)
    with pytest.raises(RegisterError, match="between the day of filing"):
        applications.grant(application, granted, by=TESTS, today=TODAY)
    with pytest.raises(RegisterError, match="between the day of filing"):
        applications.refuse(application, by=TESTS, on=day, today=TODAY)


@pytest.mark.parametrize("end", [applications.refuse, applications.withdraw])
def test_refused_or_withdrawn_it_gives_the_pairs_back(at: Desk, end: Callable[..., Application]) -> None:
    application = at.filed()
    # The registrar who records it is not the planner who holds the pair.
    by = record.Author.of(person("remi", "licences.file_application"))
    ended = end(application, by=by, on=GRANTED_ON, today=TODAY, remarks="No channel left.")
    assert ended.state in ("refused", "withdrawn")
    assert Link.objects.get().status == "lapsed"
    (entry,) = ChangeRecord.objects.filter(object_type="spectrum.link", changes__has_key="status")[:1]
    assert entry.reason.startswith("Application A-2026-001 was ")
    with pytest.raises(RegisterError, match="nothing more can be done with it"):
        applications.grant(ended, terms(ended), by=TESTS, today=TODAY)
    at.register.link("L-2", site("S3"), site("S4", 47.3))  # what is free again may be planned by others


def test_whoever_did_not_see_the_latest_version_does_not_decide(at: Desk) -> None:
    application = at.draft()
    seen = application.version
    application.remarks = "Urgent"
    applications.change(application, by=TESTS)
    with pytest.raises(StaleWriteError):
        applications.file(
            application, by=TESTS, filed_on=FILED_ON, today=TODAY, despite=WHY, expected_version=seen
        )


def test_what_was_filed_cannot_be_removed_nor_changed(at: Desk) -> None:
    application = at.filed()
    with pytest.raises((RegisterError, ProtectedError)):
        record.remove(application, by=TESTS)
    with pytest.raises(RegisterError, match="L-1 cannot be removed: it is still used by"):
        record.remove(Link.objects.get(), by=TESTS)
    with pytest.raises(RegisterError, match="only one that is being drawn up can be changed"):
        applications.take_out(application, at.link, by=TESTS)


def test_numbers_of_ours_go_on_by_themselves(at: Desk) -> None:
    assert applications.next_number(2026) == "A-2026-001"
    at.draft(number="A-2026-041")
    assert applications.next_number(2026) == "A-2026-042"
    assert applications.next_number(2027) == "A-2027-001"
