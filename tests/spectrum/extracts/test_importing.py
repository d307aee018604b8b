"""An extract comes into the register once, changes what it should, keeps what people entered, or changes nothing."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import IntegrityError

from licences.models import Authority, Holder, Licence, LicensedChannel
from sites.errors import RegisterError
from sites.models import AntennaType, ChangeRecord, Site
from sites.services import record
from sites.services.record import Author
from spectrum.extracts import reporting
from spectrum.extracts.problems import ExtractError
from spectrum.models import ExtractMapping, ExtractRun, Link, RadioMode, RadioType, Station
from spectrum.services.extracts import Outcome, described, import_extract
from tests import made
from tests.made import TESTS
from tests.spectrum.extracts.made import BAND, COLUMNS, HEADINGS, csv_bytes, description, row

pytestmark = pytest.mark.django_db

TABLES = (
    Authority, Holder, Licence, LicensedChannel, Site, AntennaType, RadioType, RadioMode, Link, Station, ChangeRecord,
    ExtractMapping, ExtractRun,
)  # fmt: skip
BACK = row(
    From_lat="47.10000", From_lon="14.20000", From_ground="700", To_lat="47.00000", To_lon="14.00000", To_ground="500",
    MHz="6262.54",
)  # fmt: skip
HOP = (row(), BACK)


def brought(*rows: dict[str, str], dry_run: bool = False, headings: Any = None, **changes: Any) -> Outcome:
    return import_extract(
        csv_bytes(*rows, headings=headings), "extract.csv", described(description(**changes)), by=TESTS,
        as_of=dt.date(2026, 6, 1), dry_run=dry_run,
    )  # fmt: skip


def sizes() -> dict[str, int]:
    return {model.__name__: model._default_manager.count() for model in TABLES}


def totals(outcome: Outcome, what: str) -> dict[str, int]:
    return {name: count[what] for name, count in outcome.plan.counts().items() if count[what]}


def test_a_row_becomes_holder_licence_channel_sites_and_a_directed_link() -> None:
    outcome = brought(*HOP)
    assert totals(outcome, "new") == {
        "antenna types": 1, "radio types": 1, "radio modes": 1, "holders": 1, "sites": 2, "licences": 1,
        "licensed channels": 2, "links": 2, "stations": 4,
    }  # fmt: skip
    licence = Licence.objects.get()
    assert (licence.authority.code, licence.number, licence.holder.name) == ("VRA", "F-100", "Valley Rail")
    assert (licence.granted_on, licence.in_force_from) == (dt.date(2018, 5, 1), dt.date(2018, 5, 1))
    assert (licence.expires_on, licence.source) == (dt.date(2030, 5, 1), "extract valley_fixed")
    assert not licence.holder.own
    site = Site.objects.get(code="VRA N47.00000 E014.00000")
    assert (site.own, site.position_source, site.position_accuracy_m) == (False, "regulator", 5)
    assert (site.ground_height_m, site.position_typed) == (500, "47.00000, 14.00000")
    link = Link.objects.get(code__startswith="F-100 6010.50000 ")
    assert (link.status, link.starts_on, link.ends_on) == ("on_air", dt.date(2018, 5, 1), None)
    sender, listener = link.stations.order_by("label")
    assert (sender.role, sender.tx_frequency_hz, sender.rx_frequency_hz) == ("a", 6_010_500_000, None)
    assert (listener.role, listener.tx_frequency_hz, listener.rx_frequency_hz) == ("b", None, 6_010_500_000)
    assert (sender.site, sender.tx_power_dbm, sender.antenna_height_agl_m) == (site, 30, 25)
    assert sender.licensed_channel is not None
    assert sender.licensed_channel.label == "6010.50000 N47.00000 E014.00000"
    assert sender.licensed_channel.channel_width_hz == 30_000_000
    assert listener.licensed_channel is None


def test_what_is_assumed_stands_on_the_link() -> None:
    brought(*HOP)
    for link in Link.objects.all():
        assert link.assumptions == (
            "Assumed, not in the extract: radio and mode (Some radio, 30 MHz), antennas (Some dish, aimed at each "
            "other), no feeder loss, transmitter output 30 dBm, antenna height 25 m above ground, polarisation V, "
            "emission, channel width 30000 kHz."
        )


def test_what_the_extract_states_is_taken_and_not_assumed() -> None:
    extra = {"Watt dBm": "27", "Pol": "horizontal", "Width": "28000", "Em": "28M0D7W", "H1": "40", "H2": "45"}
    columns = {
        **COLUMNS, "tx_power_dbm": "Watt dBm", "polarisation": "Pol", "channel_width_khz": "Width",
        "emission_designator": "Em", "tx_antenna_height_agl_m": "H1", "rx_antenna_height_agl_m": "H2",
    }  # fmt: skip
    brought({**row(), **extra}, headings=[*HEADINGS, *extra], columns=columns)
    sender, listener = Station.objects.order_by("label")
    assert (sender.tx_power_dbm, sender.polarisation, sender.antenna_height_agl_m) == (27, "H", 40)
    assert listener.antenna_height_agl_m == 45
    channel = LicensedChannel.objects.get()
    assert (channel.channel_width_hz, channel.emission_designators) == (28_000_000, ["28M0D7W"])
    assert "dBm" not in sender.link.assumptions
    assert "polarisation" not in sender.link.assumptions
    assert "height" not in sender.link.assumptions


def test_everything_is_recorded_in_the_imports_name() -> None:
    brought(*HOP)
    written = sum(size for name, size in sizes().items() if name not in ("ChangeRecord", "ExtractRun"))
    assert ChangeRecord.objects.count() == written
    assert ChangeRecord.objects.filter(reason="Extract valley_fixed, extract.csv").count() == written - 2
    run = ExtractRun.objects.get()
    assert (run.row_count, run.file_name, len(run.sha256)) == (2, "extract.csv", 64)
    assert run.counts["links"] == {"new": 2, "changed": 0, "same": 0}
    assert run.report["quality"]["both_halves"]["cases"] == 0


def test_a_trial_says_the_same_and_writes_nothing() -> None:
    before = sizes()
    trial = brought(*HOP, dry_run=True)
    assert sizes() == before
    assert trial.run is None
    assert trial.plan.counts() == brought(*HOP).plan.counts()


def test_the_same_file_again_changes_nothing() -> None:
    brought(*HOP)
    before = sizes()
    again = brought(*HOP)
    assert again.plan.is_empty
    assert totals(again, "new") == totals(again, "changed") == {}
    assert totals(again, "same")["stations"] == 4
    assert sizes() == {**before, "ExtractRun": 2}


def test_the_order_of_rows_and_the_file_format_say_nothing() -> None:
    rows = [*HOP, row(MHz="6040.5", From_ground="480")]
    brought(*rows)
    again = brought(*reversed(rows))
    assert again.plan.is_empty


def test_a_changed_file_shows_and_writes_what_changes() -> None:
    brought(*HOP)
    changed = [{**r, "State": "gone", "Ended": "2026-01-15"} for r in HOP]
    trial = brought(*changed, row(Number="F-101", MHz="6040.5"), dry_run=True)
    assert totals(trial, "changed") == {"licences": 1, "links": 2}
    assert totals(trial, "new") == {"licences": 1, "licensed channels": 1, "links": 1, "stations": 2}
    assert "VRA F-100, first day without it: nothing → 2026-01-15" in trial.report()["changed"]
    assert Licence.objects.get().ended_on is None
    brought(*changed, row(Number="F-101", MHz="6040.5"))
    licence = Licence.objects.get(number="F-100")
    assert (licence.ended_on, licence.ended_why) == (dt.date(2026, 1, 15), "gone")
    retired = Link.objects.get(code__startswith="F-100 6010.5")
    assert (retired.status, retired.ends_on) == ("retired", dt.date(2026, 1, 15))


def test_a_licence_that_passes_to_a_new_holder_changes_with_its_links() -> None:
    brought(row())
    outcome = brought(row(Holder="Hill Water", Holder_no="12"))
    assert totals(outcome, "changed") == {"licences": 1, "links": 1}
    assert Licence.objects.get().holder.name == "Hill Water"
    assert Link.objects.get().holder.name == "Hill Water"


def test_another_spelling_of_a_holder_finds_the_holder_of_the_register() -> None:
    brought(row())
    outcome = brought(
        row(Holder="VALLEY RAIL, CO."), row(Holder="VALLEY RAIL, CO.", MHz="6040.5"), row(MHz="6070.5")
    )
    assert totals(outcome, "new").get("holders") is None
    assert Holder.objects.get().name == "Valley Rail"


def test_a_value_that_a_person_changed_is_kept_and_listed() -> None:
    brought(row())
    site = Site.objects.get(code="VRA N47.00000 E014.00000")
    site.ground_height_m = 512.0
    record.change(site, by=TESTS, reason="surveyed")
    licence = Licence.objects.get()
    licence.expires_on = dt.date(2031, 1, 1)
    record.change(licence, by=TESTS)
    outcome = brought(row())
    assert {(k.field, k.ours, k.theirs) for k in outcome.plan.kept} == {
        ("ground_height_m", 512.0, 500.0),
        ("expires_on", dt.date(2031, 1, 1), dt.date(2030, 5, 1)),
    }
    site.refresh_from_db()
    assert site.ground_height_m == 512.0
    assert any("512.0 stays (tests" in line for line in outcome.report()["kept"])
    # What the person left alone still follows the extract.
    outcome = brought(row(Service="mobile"))
    assert [list(change.fields) for change in outcome.plan.changed] == [["service"]]
    licence.refresh_from_db()
    assert (licence.service, licence.expires_on) == ("mobile", dt.date(2031, 1, 1))


def test_better_known_equipment_of_another_party_survives_the_next_import() -> None:
    brought(row())
    station = Station.objects.get(label="A")
    station.tx_power_dbm, station.antenna_height_agl_m = 27.0, 60.0
    record.change(station, by=TESTS, reason="told by the holder")
    assert brought(row()).plan.is_empty
    station.refresh_from_db()
    assert (station.tx_power_dbm, station.antenna_height_agl_m) == (27.0, 60.0)


def test_a_licence_entered_by_hand_is_not_overwritten() -> None:
    brought(row())
    by_hand = record.create(
        Licence(
            authority=Authority.objects.get(), number="F-200", holder=Holder.objects.get(), granted_on=dt.date(2020, 1, 1),
            in_force_from=dt.date(2020, 1, 1),
        ),
        by=TESTS,
    )  # fmt: skip
    outcome = brought(row(), row(Number="F-200", MHz="6040.5"))
    assert {k.field for k in outcome.plan.kept} == {"service", "granted_on", "in_force_from", "expires_on"}
    by_hand.refresh_from_db()
    assert (by_hand.version, by_hand.expires_on) == (1, None)


def test_own_rows_take_our_surveyed_site_and_make_no_link() -> None:
    own = made.site("MAST", 47.0004, 14.0, position_source="survey", ground_height_m=503.0)
    ours = row(Number="G-1", Holder="Own Grid Company", Holder_no="1")
    outcome = brought(ours, row(Number="F-101", MHz="6040.5"))
    assert outcome.plan.own_rows == 1
    assert Holder.objects.get(name="Own Grid Company").own
    channel = LicensedChannel.objects.get(licence__number="G-1")
    assert (channel.site, channel.latitude_deg) == (own, 47.0)
    own.refresh_from_db()
    assert (own.version, own.latitude_deg, own.ground_height_m) == (1, 47.0004, 503.0)
    assert Link.objects.count() == 1
    assert Link.objects.get().stations.get(label="A").site == own
    assert brought(ours, row(Number="F-101", MHz="6040.5")).plan.is_empty


def test_a_moved_site_of_the_extracts_own_code_follows_unless_a_person_surveyed_it() -> None:
    columns = {**COLUMNS, "tx_site_code": "From", "rx_site_code": "To"}
    headings = [*HEADINGS, "From", "To"]
    ends = {"From": "S1", "To": "S2"}
    brought({**row(), **ends}, headings=headings, columns=columns)
    surveyed = Site.objects.get(code="VRA S2")
    surveyed.latitude_deg, surveyed.position_source = 47.10021, Site.PositionSource.SURVEY
    record.change(surveyed, by=TESTS)
    moved = {**row(From_lat="47.00100", To_lat="47.10100"), **ends}
    outcome = brought(moved, headings=headings, columns=columns, key=["licence_number", "tx_frequency"])
    assert {(c.obj.code, f) for c in outcome.plan.changed if isinstance(c.obj, Site) for f in c.fields} == {
        ("VRA S1", "latitude_deg")
    }
    assert [(str(k.obj.code), k.theirs) for k in outcome.plan.kept if isinstance(k.obj, Site)] == [
        ("VRA S2", 47.101)
    ]
    surveyed.refresh_from_db()
    assert surveyed.latitude_deg == 47.10021


def test_what_a_later_file_no_longer_has_is_listed_and_stays() -> None:
    brought(*HOP, row(Number="F-101", MHz="6040.5"))
    outcome = brought(*HOP)
    assert outcome.plan.missing[0] == "licence F-101"
    assert outcome.plan.missing[1].startswith("link F-101 6040.50000 ")
    assert outcome.plan.is_empty
    assert Licence.objects.filter(number="F-101").exists()


def test_a_bad_row_among_good_ones_leaves_nothing_behind() -> None:
    before = sizes()
    with pytest.raises(ExtractError, match="Row 4, column MHz"):
        brought(*HOP, row(MHz="six"))
    assert sizes() == before


def test_a_failure_in_the_middle_of_writing_leaves_nothing_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    before = sizes()
    create_many = record.create_many

    def fail_at_stations(objects: Any, **options: Any) -> Any:
        if objects and isinstance(objects[0], Station):
            raise IntegrityError("UNIQUE constraint failed: station_label_once")
        return create_many(objects, **options)

    monkeypatch.setattr(record, "create_many", fail_at_stations)
    with pytest.raises(ExtractError, match="run the import again"):
        brought(*HOP)
    assert sizes() == before


def test_what_the_registers_rules_refuse_is_said_by_row() -> None:
    before = sizes()
    stand_ins = {"bands": [{**BAND, "antenna_type": "Dish without a size"}]}
    with pytest.raises(
        RegisterError, match="'Dish without a size', which is neither in the register nor described"
    ):
        brought(*HOP, stand_ins=stand_ins)
    with pytest.raises(ExtractError, match="a value that the register accepts"):
        brought(
            row(),
            stand_ins={"antenna_types": [{**description()["stand_ins"]["antenna_types"][0], "pattern": "x"}]},
        )
    assert sizes() == before


def test_equipment_of_the_register_is_used_and_left_as_it_is() -> None:
    dish = record.create(
        AntennaType(
            name="Some dish", gain_dbi=40, frequency_min_mhz=5800, frequency_max_mhz=6500, pattern="f699", diameter_m=2.4
        ),
        by=TESTS,
    )  # fmt: skip
    brought(row())
    dish.refresh_from_db()
    assert (AntennaType.objects.count(), dish.gain_dbi, dish.version) == (1, 40, 1)
    assert Station.objects.filter(antenna_type=dish).count() == 2


def test_a_mapping_that_changes_is_changed_with_its_version() -> None:
    brought(row())
    brought(row(), title="Another title")
    mapping = ExtractMapping.objects.get()
    assert (mapping.title, mapping.version) == ("Another title", 2)
    assert [run.mapping_version for run in ExtractRun.objects.order_by("pk")] == [1, 2]


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        ([], "holds no object"),
        ({"code": "a", "colour": 1}, "the part 'colour'"),
        ({"code": "a"}, "an authority with its code"),
        ({**description(), "columns": {"holder": "H"}}, "no column is named for licence_number"),
    ],
)
def test_a_description_that_cannot_be_used_is_refused(broken: Any, said: str) -> None:
    with pytest.raises(RegisterError, match=said):
        described(broken)


def test_a_mapping_is_checked_on_every_way_into_the_register() -> None:
    authority = record.create(Authority(code="VRA", name="Valley"), by=TESTS)
    with pytest.raises(Exception, match="no column is named for holder"):
        record.create(
            ExtractMapping(
                code="a", title="A", authority=authority, columns={"licence_number": "N"}, stand_ins={}
            ),
            by=TESTS,
        )
    assert ExtractMapping.objects.count() == 0


def test_the_report_lists_every_case_and_holds_no_formula() -> None:
    outcome = brought(row(), row(Number="F-101", Holder="@SUM(1)", Holder_no=""))
    text = reporting.csv_of(outcome.plan, outcome.quality)
    assert "quality,shared_frequency,2 3," in text
    assert "quality,registrant_unnumbered,3,'@SUM(1)" in text


def test_two_links_of_one_frequency_under_one_licence_share_its_channel() -> None:
    brought(row(), row(To_lat="47.20000"))
    assert (Link.objects.count(), LicensedChannel.objects.count()) == (2, 1)


def test_long_licence_numbers_still_give_codes_that_fit_and_differ() -> None:
    rows = [row(Number=f"{'LONG-NUMBER-' * 4}{n}", MHz=str(6010 + n)) for n in (1, 2)]
    brought(*rows)
    assert {len(code) <= 40 for code in Link.objects.values_list("code", flat=True)} == {True}
    assert brought(*rows).plan.is_empty


def test_an_import_by_a_person_is_recorded_as_theirs() -> None:
    registrar = made.person("registrar")
    import_extract(
        csv_bytes(row()),
        "extract.csv",
        described(description()),
        by=Author.of(registrar),
        dry_run=False,
    )
    assert ExtractRun.objects.get().by == registrar
    assert set(ChangeRecord.objects.filter(object_type="spectrum.link").values_list("by", flat=True)) == {
        registrar.pk
    }
