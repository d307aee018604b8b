"""The judgement of a link as it is being typed: the same as after saving it, and nothing written."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from sites.models import ChangeRecord
from spectrum.conflicts.evidence import adds_up
from spectrum.conflicts.kinds import SITE_KINDS
from spectrum.models import Check, Finding, Link, Station
from spectrum.services import checks, link_preview
from spectrum.services.link_preview import DraftStation, Preview, preview
from spectrum.services.links import save_link
from tests.made import TESTS, TODAY, Register, site

pytestmark = pytest.mark.django_db


@pytest.fixture
def register() -> Register:
    made = Register()
    made.link("N-1", site("N-01", 47.05, 14.02), site("N-02", 47.12, 14.1), status="on_air")
    site("K-01"), site("K-02", 47.1)
    return made


def typed(register: Register, **changes: Any) -> tuple[Link, list[DraftStation]]:
    """A link between K-01 and K-02 that is not in the register."""
    from sites.models import Site

    places = [Site.objects.get(code=code) for code in ("K-01", "K-02")]
    stations = register.stations(*places, **changes)
    link = Link(code="T-1", holder=register.own, status=Link.Status.PLANNED)
    return link, [DraftStation(station, f"end {station.label}") for station in stations]


def said(found: Preview | list[Finding]) -> list[tuple[str, str, float | None, list[Any]]]:
    findings = found.findings if isinstance(found, Preview) else found
    assert findings is not None
    return sorted((f.kind, f.headline, f.margin, f.evidence) for f in findings)


def test_a_new_link_is_judged_as_it_will_be_once_it_is_saved(register: Register) -> None:
    link, drafts = typed(register)
    found = preview(link, drafts, as_of=TODAY)
    save_link(link, [draft.station for draft in drafts], by=TESTS, clashes_are_findings=True)
    checks.check_link(link.pk, as_of=TODAY)
    stored = list(Finding.objects.filter(link=link) | Finding.objects.filter(other_link=link))

    assert found.findings
    assert said(found) == said(stored)
    assert {f.kind for f in found.findings} >= {"co_channel", "station_without_licence"}
    for finding in found.findings:
        if finding.margin is not None and finding.margin_unit == "dB":
            assert adds_up(finding.evidence, finding.margin)


def test_a_link_of_the_register_is_judged_in_its_own_place(register: Register) -> None:
    link, drafts = typed(register)
    save_link(link, [draft.station for draft in drafts], by=TESTS, clashes_are_findings=True)
    checks.check_link(link.pk, as_of=TODAY)
    stored = list(Finding.objects.filter(link=link) | Finding.objects.filter(other_link=link))

    changed = [DraftStation(copy.copy(draft.station), draft.name) for draft in drafts]
    assert said(preview(link, changed, as_of=TODAY)) == said(stored)
    for draft in changed:
        draft.station.tx_power_dbm = 20.0
    weaker = preview(link, changed, as_of=TODAY)

    of_kind = "co_channel"
    before = {f.identity: f.margin for f in stored if f.kind == of_kind and f.link_id == link.pk}
    after = {
        f.identity: f.margin for f in weaker.findings or () if f.kind == of_kind and f.identity in before
    }
    assert before and after
    for identity, margin in after.items():
        assert margin == pytest.approx((before[identity] or 0.0) + 17.0, abs=0.01)


def test_nothing_is_written(register: Register) -> None:
    link, drafts = typed(register)
    before = [model.objects.count() for model in (Link, Station, Finding, Check, ChangeRecord)]

    preview(link, drafts, as_of=TODAY)

    assert [model.objects.count() for model in (Link, Station, Finding, Check, ChangeRecord)] == before
    assert link._state.adding
    assert [draft.station.pk for draft in drafts] == [None, None]


def test_two_sites_alone_give_length_azimuths_and_tilts(register: Register) -> None:
    link, drafts = typed(register, tx_power_dbm=None)
    unknown = frozenset(("mode", "antenna_type"))
    drafts = [DraftStation(draft.station, draft.name, unknown) for draft in drafts]

    found = preview(link, drafts, as_of=TODAY)

    assert found.report is None and found.findings is None
    assert found.between is not None
    # 0.1 degree of latitude on WGS 84 at 47 degrees north: 111.17 km a degree (series for the meridian arc).
    assert found.between.length_km == pytest.approx(11.117, abs=0.005)
    assert found.between.azimuth_deg == pytest.approx(0.0, abs=1e-6)
    assert found.between.back_azimuth_deg == pytest.approx(180.0, abs=1e-6)


def test_the_profile_stands_before_the_power_is_known(register: Register) -> None:
    link, drafts = typed(register)
    drafts[0] = DraftStation(drafts[0].station, "end A", frozenset(("tx_power_dbm",)))

    found = preview(link, drafts, as_of=TODAY)

    assert found.report is not None and found.report.profile is not None
    hears_a, hears_b = found.report.ends[1], found.report.ends[0]
    assert hears_a.wanted_dbm is None and hears_b.wanted_dbm is not None
    assert found.findings is None


@pytest.mark.parametrize("field", ["feeder_loss_db", "duplexer_loss_db", "azimuth_deg", "tilt_deg"])
def test_no_level_is_given_where_a_part_of_it_could_not_be_read(register: Register, field: str) -> None:
    link, drafts = typed(register)
    drafts[1] = DraftStation(drafts[1].station, "end B", frozenset((field,)))

    found = preview(link, drafts, as_of=TODAY)

    assert found.report is not None
    assert [end.wanted_dbm for end in found.report.ends] == [None, None]
    assert found.findings is None


def test_a_link_that_is_not_live_is_not_checked(register: Register) -> None:
    link, drafts = typed(register)
    link.status = Link.Status.RETIRED

    found = preview(link, drafts, as_of=TODAY)

    assert found.not_live and found.findings is None and found.report is not None


def test_pairs_beyond_those_explained_are_counted(
    register: Register, monkeypatch: pytest.MonkeyPatch
) -> None:
    link, drafts = typed(register)
    whole = preview(link, drafts, as_of=TODAY)
    monkeypatch.setattr(link_preview.judging, "MOST_EXPLAINED", 1)

    cut = preview(link, drafts, as_of=TODAY)

    assert not whole.more
    assert len(cut.findings or ()) + sum(cut.more.values()) == len(whole.findings or ())
    pairs = [f for f in cut.findings or () if f.kind in ("co_channel", "carrier_to_interference")]
    worst = [f for f in whole.findings or () if f.kind in ("co_channel", "carrier_to_interference")]
    assert len(pairs) == 1
    assert pairs[0].margin == min(f.margin for f in worst if f.margin is not None)


def test_a_crowded_site_is_named_and_left_to_the_check(
    register: Register, monkeypatch: pytest.MonkeyPatch
) -> None:
    link, drafts = typed(register)
    whole = preview(link, drafts, as_of=TODAY)
    monkeypatch.setattr(link_preview.judging, "MOST_AROUND_A_SITE", -1)

    cut = preview(link, drafts, as_of=TODAY)

    assert not whole.crowded
    assert cut.crowded == ["K-01", "K-02"]
    assert "duplex_isolation" in {f.kind for f in whole.findings or ()}
    assert {f.kind for f in cut.findings or ()} == {f.kind for f in whole.findings or ()} - set(SITE_KINDS)


def test_findings_beyond_those_shown_are_counted(register: Register, monkeypatch: pytest.MonkeyPatch) -> None:
    link, drafts = typed(register)
    whole = preview(link, drafts, as_of=TODAY)
    monkeypatch.setattr(link_preview.judging, "MOST_SHOWN", 2)

    cut = preview(link, drafts, as_of=TODAY)

    assert len(cut.findings or ()) == 2
    assert 2 + sum(cut.more.values()) == len(whole.findings or ())
