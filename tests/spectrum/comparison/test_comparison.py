"""The register beside the regulator's extract: what differs is said, kept, decided once, and never overwritten in silence."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from licences.models import Authority, Holder, Licence, LicensedChannel
from sites.errors import RegisterError, StaleWriteError
from sites.models import ChangeRecord, Site
from sites.services import record
from spectrum.models import Difference, ExtractMapping, Link, RegulatorRecord
from spectrum.services import comparison
from spectrum.services.extracts import described, import_extract
from tests import made
from tests.made import TESTS
from tests.spectrum.extracts.made import csv_bytes, description, row

pytestmark = pytest.mark.django_db

OURS = {"Holder": "Own Grid Company", "Holder_no": "1", "Number": "G-1"}


def load(*rows: dict[str, str], **changes: Any) -> None:
    import_extract(
        csv_bytes(*rows),
        "extract.csv",
        described(description(**changes)),
        by=TESTS,
        as_of=dt.date(2026, 6, 1),
    )


def standing() -> dict[tuple[str, str], str]:
    """State by key and field (or what it is) of everything that the last comparison lists."""
    return {
        (d.record.key, d.field or d.what): d.state
        for d in Difference.objects.select_related("record").order_by("pk")
    }


def one(field: str = "", **where: Any) -> Difference:
    return Difference.objects.select_related("record").get(field=field, **where)


def decide(difference: Difference, choice: str, reason: str = "") -> Difference:
    return comparison.decide(
        difference, choice, reason=reason, by=TESTS, seen=comparison.distinct(difference)
    )


def own_licence() -> Licence:
    """Our licence and its channel, as a person entered them: at our surveyed mast."""
    authority = record.create(Authority(code="VRA", name="Valley Radio Authority"), by=TESTS)
    holder = record.create(Holder(name="Own Grid Company", own=True), by=TESTS)
    mast = made.site("MAST", 47.0, 14.0, position_source="survey")
    licence = record.create(
        Licence(
            authority=authority, number="G-1", holder=holder, service="fixed", granted_on=dt.date(2018, 5, 1),
            in_force_from=dt.date(2018, 5, 1), expires_on=dt.date(2030, 5, 1),
        ),
        by=TESTS,
    )  # fmt: skip
    record.create(
        LicensedChannel(
            licence=licence, label="1", site=mast, frequency_hz=6_010_500_000, channel_width_hz=30_000_000,
            latitude_deg=47.0, longitude_deg=14.0,
        ),
        by=TESTS,
    )  # fmt: skip
    return licence


def test_the_first_extract_and_the_same_again_leave_no_difference() -> None:
    load(row(), row(MHz="6040.5"))
    assert standing() == {}
    kept = RegulatorRecord.objects.count()
    assert set(RegulatorRecord.objects.values_list("kind", flat=True)) == {
        "licence", "channel", "site", "link", "station",
    }  # fmt: skip
    load(row(MHz="6040.5"), row())
    assert standing() == {}
    assert RegulatorRecord.objects.count() == kept


def test_what_only_extracts_wrote_follows_and_the_run_lists_it() -> None:
    load(row())
    load(row(Expires="2031-05-01"))
    [followed] = Difference.objects.all()
    assert (followed.record.key, followed.field, followed.state) == ("F-100", "expires_on", "followed")
    assert (followed.then, followed.now) == ("2030-05-01", "2031-05-01")
    assert Licence.objects.get().expires_on == dt.date(2031, 5, 1)


def test_three_values_stand_side_by_side_where_a_person_had_entered_one() -> None:
    load(row())
    licence = Licence.objects.get()
    licence.expires_on = dt.date(2029, 1, 1)
    record.change(licence, by=TESTS)
    load(row(Expires="2031-05-01"))
    difference = one("expires_on")
    assert (difference.register, difference.then, difference.now) == (
        "2029-01-01",
        "2030-05-01",
        "2031-05-01",
    )
    assert difference.state == "open"
    assert Licence.objects.get().expires_on == dt.date(2029, 1, 1)


def test_believing_the_regulator_changes_the_register_and_is_recorded() -> None:
    load(row())
    licence = Licence.objects.get()
    licence.expires_on = dt.date(2029, 1, 1)
    record.change(licence, by=TESTS)
    load(row())
    decide(one("expires_on"), "regulator", "letter 7")
    assert Licence.objects.get().expires_on == dt.date(2030, 5, 1)
    entry = ChangeRecord.objects.filter(object_type="licences.licence").first()
    assert entry is not None
    assert entry.changes["expires_on"] == ["2029-01-01", "2030-05-01"]
    assert "letter 7" in entry.reason
    load(row())
    assert standing() == {("F-100", "expires_on"): "regulator"}
    # The registrar decided this value: the next one of the regulator is asked again, not followed.
    load(row(Expires="2032-05-01"))
    assert standing() == {("F-100", "expires_on"): "open"}
    assert Licence.objects.get().expires_on == dt.date(2030, 5, 1)


def test_a_decision_that_is_taken_back_is_asked_again() -> None:
    load(row())
    licence = Licence.objects.get()
    licence.service = "mobile"
    record.change(licence, by=TESTS)
    load(row())
    decide(one("service"), "regulator")
    licence = Licence.objects.get()
    licence.service = "mobile"
    record.change(licence, by=TESTS)
    comparison.bring_up_to_date(ExtractMapping.objects.get())
    assert one("service").state == "open"


@pytest.mark.parametrize("choice", ["register", "aside"])
def test_a_decision_holds_until_either_side_changes(choice: str) -> None:
    load(row())
    licence = Licence.objects.get()
    licence.expires_on = dt.date(2029, 1, 1)
    record.change(licence, by=TESTS)
    load(row())
    decide(one("expires_on"), choice, "the regulator was told on the phone")
    load(row())
    assert one("expires_on").state == choice
    licence.refresh_from_db()
    licence.expires_on = dt.date(2029, 6, 1)
    record.change(licence, by=TESTS)
    comparison.bring_up_to_date(ExtractMapping.objects.get())
    assert one("expires_on").state == "open"
    decide(one("expires_on"), choice, "still so")
    load(row(Expires="2033-05-01"))
    assert one("expires_on").state == "open"
    licence.expires_on = dt.date(2033, 5, 1)
    record.change(licence, by=TESTS)
    comparison.bring_up_to_date(ExtractMapping.objects.get())
    assert standing() == {}


def test_setting_aside_needs_a_reason_and_a_choice_must_be_one() -> None:
    load(row())
    licence = Licence.objects.get()
    licence.service = "mobile"
    record.change(licence, by=TESTS)
    load(row())
    with pytest.raises(RegisterError, match="needs a reason"):
        decide(one("service"), "aside", "  ")
    with pytest.raises(RegisterError, match="Say which is believed"):
        decide(one("service"), "followed")
    assert one("service").state == "open"


def test_nobody_decides_about_values_that_have_changed_since() -> None:
    load(row())
    licence = Licence.objects.get()
    licence.service = "mobile"
    record.change(licence, by=TESTS)
    load(row())
    seen = one("service")
    licence.service = "aeronautical"
    record.change(licence, by=TESTS)
    with pytest.raises(StaleWriteError, match="has changed since you opened it"):
        decide(seen, "regulator")
    assert Licence.objects.get().service == "aeronautical"


def test_the_second_of_two_who_decide_overrides_openly_or_is_told() -> None:
    load(row())
    licence = Licence.objects.get()
    licence.service = "mobile"
    record.change(licence, by=TESTS)
    load(row())
    seen = one("service")
    decide(seen, "regulator")
    with pytest.raises(StaleWriteError):
        decide(seen, "register")
    assert Licence.objects.get().service == "fixed"


def test_our_channel_is_found_by_frequency_and_place_and_its_position_stays_until_decided() -> None:
    """As licensed, as surveyed, as the regulator holds it: an import moves none of them."""
    own_licence()
    load(row(**OURS, From_lat="47.00300"))
    assert Link.objects.count() == 0
    assert LicensedChannel.objects.count() == 1
    channel = one("position", record__kind="channel")
    assert channel.state == "open"
    assert channel.register == [47.0, 14.0]
    assert channel.now == [47.003, 14.0]
    assert channel.distance_m == pytest.approx(333.5, abs=0.2)  # 0.003° of the meridian there, WGS 84
    mast = one("position", record__kind="site")
    assert (mast.record.object_id, mast.register) == (Site.objects.get(code="MAST").pk, [47.0, 14.0])
    decide(channel, "regulator", "the licence says so")
    stored = LicensedChannel.objects.get()
    assert (stored.label, stored.latitude_deg) == ("1", 47.003)
    assert Site.objects.get(code="MAST").latitude_deg == 47.0


def test_a_position_that_the_regulator_moves_is_no_other_channel() -> None:
    own_licence()
    load(row(**OURS))
    assert standing() == {}
    load(row(**OURS, From_lat="47.00300"))
    difference = one("position", record__kind="channel")
    assert (difference.register, difference.then, difference.now) == (
        [47.0, 14.0],
        [47.0, 14.0],
        [47.003, 14.0],
    )
    assert not Difference.objects.filter(what__in=["gone", "new"]).exists()
    load(row(**OURS))
    assert standing() == {}


def test_a_frequency_that_differs_at_our_place_is_a_difference_of_that_channel() -> None:
    own_licence()
    load(row(**OURS, MHz="6012.5"))
    assert standing() == {("G-1/6012.50000 N47.00000 E014.00000", "frequency_hz"): "open"}
    assert LicensedChannel.objects.get().frequency_hz == 6_010_500_000


def test_a_channel_that_only_the_regulator_has_under_our_licence_waits_for_a_decision() -> None:
    own_licence()
    load(row(**OURS), row(**OURS, MHz="6040.5"))
    assert standing() == {("G-1/6040.50000 N47.00000 E014.00000", "new"): "open"}
    assert LicensedChannel.objects.count() == 1
    decide(one(), "regulator")
    added = LicensedChannel.objects.get(frequency_hz=6_040_500_000)
    assert (added.site, added.channel_width_hz) == (Site.objects.get(code="MAST"), 30_000_000)
    load(row(**OURS), row(**OURS, MHz="6040.5"))
    assert Difference.objects.filter(state="open").count() == 0
    assert LicensedChannel.objects.count() == 2


def test_what_is_gone_is_listed_until_it_has_ended_in_the_register() -> None:
    load(row(), row(Number="F-101", MHz="6040.5"))
    load(row())
    gone = {d.record.kind for d in Difference.objects.filter(what="gone", state="open")}
    assert gone == {"licence", "link"}
    with pytest.raises(RegisterError, match="ended on its own page"):
        decide(one(record__kind="licence"), "regulator")
    licence = Licence.objects.get(number="F-101")
    licence.ended_on = dt.date(2026, 5, 1)
    record.change(licence, by=TESTS)
    comparison.bring_up_to_date(ExtractMapping.objects.get())
    assert {d.record.kind for d in Difference.objects.filter(what="gone")} == {"link"}
    load(row(), row(Number="F-101", MHz="6040.5"))
    assert not Difference.objects.filter(what="gone").exists()


def test_a_later_new_row_is_listed_as_entered() -> None:
    load(row())
    load(row(), row(Number="F-101", MHz="6040.5"))
    assert {(d.record.kind, d.what, d.state) for d in Difference.objects.select_related("record")} == {
        (kind, "new", "followed") for kind in ("licence", "channel", "link", "station")
    }


def test_a_step_of_its_life_is_not_undone_by_an_import_but_corrected_by_a_decision() -> None:
    licence = own_licence()
    licence.refresh_from_db()
    licence.ended_on, licence.ended_how = dt.date(2026, 5, 1), "surrendered"
    record.change(licence, by=TESTS)
    load(row(**OURS))
    assert standing()["G-1", "ended_on"] == "open"
    decide(one("ended_on"), "regulator", "the surrender was never filed")
    assert Licence.objects.get().ended_on is None
