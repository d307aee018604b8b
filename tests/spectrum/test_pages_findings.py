"""Pages of findings and checks: the arithmetic, accepting with a reason, filters in the address, fixed queries."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape
from pytest_django.fixtures import DjangoAssertNumQueries

from sites.models import ChangeRecord, Job
from spectrum.models import Check, Finding, Link
from spectrum.services import checks, findings
from spectrum.services.links import save_link
from tests.made import TESTS, Register, person, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
PLANNER = ("spectrum.view_finding", "spectrum.accept_finding", "spectrum.view_check", "places.view_job")
# session, person and permissions 4, count 1, findings with their parties 1
LIST_QUERIES = 6
# session, person and permissions 4, the finding 1; for the pictures and for the cures each masks, modes, stations and
# criteria 4; masks, modes and antenna types that may be used instead 3
FINDING_QUERIES = 16


def text(answer: Any) -> str:
    return str(answer.content.decode())


@pytest.fixture
def client() -> Client:
    signed_in = Client()
    signed_in.force_login(person("paula", *PLANNER, first_name="Paula", last_name="Pichler"))
    return signed_in


@pytest.fixture
def network() -> list[Link]:
    return crowded(Register(), 2)


def crowded(register: Register, links: int) -> list[Link]:
    """Links on one pair beside each other, all checked: each disturbs each."""
    made = [
        register.link(
            f"L-{n}", site(f"N-{n}", 47 + n * 0.01), site(f"M-{n}", 47 + n * 0.01, 14.1), status="on_air"
        )
        for n in range(links)
    ]
    checks.check_network(as_of=dt.date(2026, 6, 1))
    return made


def worst() -> Finding:
    return Finding.objects.filter(kind="co_channel").order_by("rank", "margin")[0]


def test_a_finding_shows_its_arithmetic_with_sources(client: Client, network: list[Link]) -> None:
    finding = worst()

    page = text(client.get(reverse("finding", args=[finding.pk])))

    assert finding.headline in page
    assert page.count("<tr class=") == len(finding.evidence)
    for role in ("term", "sum", "limit", "margin"):
        assert f'<tr class="{role}">' in page
    for row in finding.evidence:
        assert escape(row["name"]) in page
        assert escape(row["source"]) in page
    assert 'aria-label="Margin: ' in page


def test_accepting_needs_a_reason_and_leaves_a_name_and_a_date(client: Client, network: list[Link]) -> None:
    finding = worst()
    accept, page = (reverse(name, args=[finding.pk]) for name in ("finding-accept", "finding"))

    empty = client.post(accept, {"reason": "  "})
    assert empty.status_code == 422
    assert "Say why the finding is accepted" in text(empty)

    done = client.post(accept, {"reason": "Agreed with the neighbour on 3 May."}, follow=True)
    assert "it stays accepted in later checks" in text(done)
    finding.refresh_from_db()
    assert finding.accepted_reason == "Agreed with the neighbour on 3 May."
    assert "Accepted by Paula Pichler on" in text(client.get(page))
    assert "Agreed with the neighbour on 3 May." in text(client.get(page))
    assert 'class="mark must_fix accepted"' in text(client.get(page))

    again = client.post(accept, {"reason": "Once more"})
    assert again.status_code == 409
    assert "Paula Pichler accepted this finding on" in text(again)

    checks.check_network(as_of=dt.date(2026, 6, 1))
    finding.refresh_from_db()
    assert finding.accepted_at is not None


def test_a_live_acceptance_answers_with_the_finding_and_keeps_a_refused_reason(
    client: Client, network: list[Link]
) -> None:
    finding = worst()
    accept = reverse("finding-accept", args=[finding.pk])
    live = {"HX-Request": "true"}

    refused = client.post(accept, {"reason": ""}, headers=live)
    done = client.post(accept, {"reason": "Agreed."}, headers=live)
    stale = client.post(accept, {"reason": "Mine is better."}, headers=live)

    assert refused.status_code == 200
    assert "Say why" in text(refused)
    assert text(done).startswith('<article class="finding"')
    assert "Accepted by Paula Pichler" in text(done)
    assert "accepted this finding on" in text(stale)


def test_an_acceptance_can_be_taken_back(client: Client, network: list[Link]) -> None:
    finding = worst()
    client.post(reverse("finding-accept", args=[finding.pk]), {"reason": "Agreed."})

    answer = client.post(reverse("finding-reopen", args=[finding.pk]), follow=True)

    assert "The acceptance was taken back." in text(answer)
    finding.refresh_from_db()
    assert finding.accepted_at is None
    assert ChangeRecord.objects.filter(object_type="spectrum.finding", object_id=finding.pk).count() == 2


def test_a_viewer_sees_no_form_and_is_refused(network: list[Link]) -> None:
    viewer = Client()
    viewer.force_login(person_of_role("viewer"))
    finding = worst()

    assert "Accept with this reason" not in text(viewer.get(reverse("finding", args=[finding.pk])))
    refused = viewer.post(reverse("finding-accept", args=[finding.pk]), {"reason": "No."})
    assert refused.status_code == 403
    assert "manager, planner" in text(refused)


def shown(client: Client, **query: str) -> set[int]:
    return {row.pk for row, _ in client.get(reverse("finding-list"), query).context["body"]}


def test_the_list_is_filtered_by_its_address(client: Client) -> None:
    first, second, third = crowded(Register(), 3)
    accepted = worst()
    user: Any = person("mia", "spectrum.accept_finding")
    findings.accept(accepted, reason="Agreed.", by=user)
    gone = Finding.objects.exclude(pk=accepted.pk).filter(kind="co_channel")[0]
    Finding.objects.filter(pk=gone.pk).update(gone_at=gone.last_seen_at)
    current = Finding.objects.filter(gone_at=None)

    def ids(rows: Any) -> set[int]:
        return set(rows.values_list("pk", flat=True))

    assert shown(client) == ids(current)
    assert shown(client, severity="must_fix") == ids(current.filter(severity="must_fix"))
    assert shown(client, kind="station_without_licence") == ids(
        current.filter(kind="station_without_licence")
    )
    disturbed = shown(client, group="interference")
    assert ids(current.filter(kind="co_channel")) <= disturbed
    assert not disturbed & ids(current.filter(kind="station_without_licence"))
    assert shown(client, link="l-1") == {f.pk for f in current if second.pk in (f.link_id, f.other_link_id)}
    assert shown(client, accepted="yes") == {accepted.pk}
    assert accepted.pk not in shown(client, accepted="no")
    assert shown(client, state="gone") == {gone.pk}
    assert gone.pk in shown(client, state="all")
    assert shown(client, q="without a licensed channel") == ids(
        current.filter(kind="station_without_licence")
    )
    assert shown(client, mine="on") == set()
    assert first.pk != third.pk


def test_the_list_reads_worst_first(client: Client) -> None:
    crowded(Register(), 3)

    rows = [row for row, _ in client.get(reverse("finding-list")).context["body"]]
    margins = [row.margin for row in rows if row.rank == 0 and row.margin is not None]

    assert [row.rank for row in rows] == sorted(row.rank for row in rows)
    assert margins == sorted(margins)


def test_the_list_draws_each_margin_on_the_common_scale(client: Client, network: list[Link]) -> None:
    page = text(client.get(reverse("finding-list"), {"kind": "co_channel"}))

    assert page.count('<svg class="scale"') == Finding.objects.filter(kind="co_channel").count()
    assert "&lt;svg" not in page
    assert '<span class="mark must_fix">' in page


@pytest.mark.parametrize("links", [2, 8])
def test_the_list_asks_a_fixed_number_of_queries(
    client: Client, links: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    crowded(Register(), links)
    with django_assert_num_queries(LIST_QUERIES):
        answer = client.get(reverse("finding-list"))
    assert len(answer.context["body"]) >= min(50, links * links)


def test_a_check_says_what_it_found_by_kind(client: Client, network: list[Link]) -> None:
    check = Check.objects.latest("pk")

    page = text(client.get(reverse("check", args=[check.pk])))

    assert (
        f"{check.counts['new']} new, {check.counts['still']} still there, {check.counts['gone']} gone."
        in page
    )
    assert "Co-channel interference" in page
    assert "i_over_n_limit_db" in page


def test_a_check_of_the_network_is_asked_for_and_leads_to_its_progress(network: list[Link]) -> None:
    manager = Client()
    manager.force_login(person_of_role("manager"))

    answer = manager.post(reverse("network-check"))

    job = Job.objects.get(kind="check_network")
    assert answer["Location"] == reverse("job", args=[job.pk])
    progress = text(manager.get(answer["Location"]))
    assert "Waiting for a worker." in progress
    assert 'hx-trigger="every 1s"' in progress
    cancelled = text(manager.post(reverse("job-cancel", args=[job.pk]), follow=True))
    assert "Cancelled." in cancelled
    assert 'hx-trigger="every 1s"' not in cancelled
    twice = text(manager.post(reverse("job-cancel", args=[job.pk]), follow=True))
    assert "there is nothing to cancel" in twice


def test_home_counts_what_is_open_for_whoever_looks_after_it(network: list[Link]) -> None:
    planner = person_of_role("planner")
    client = Client()
    client.force_login(planner)
    everything = client.get(reverse("home"))
    assert "What needs attention?" in text(everything)
    assert {value: count for value, _, count in everything.context["counts"]}["must_fix"] > 0

    register_link = network[0]
    register_link.responsible = planner
    from sites.services import record
    from tests.made import TESTS

    record.change(register_link, by=TESTS)
    mine = client.get(reverse("home"))
    assert "What needs attention from you?" in text(mine)
    assert "No licence of yours is in its renewal window; those of others are not shown." in text(mine)
    assert "No licence of yours" not in text(everything)
    about_mine = Finding.objects.filter(gone_at=None, rank=0).filter(link=register_link)
    about_mine |= Finding.objects.filter(gone_at=None, rank=0).filter(other_link=register_link)
    assert {value: count for value, _, count in mine.context["counts"]}["must_fix"] == about_mine.count()
    assert "What needs attention?" in text(client.get(reverse("home"), {"whose": "all"}))


def test_a_finding_is_drawn_before_its_arithmetic(client: Client, network: list[Link]) -> None:
    finding = worst()

    page = text(client.get(reverse("finding", args=[finding.pk])))

    order = [
        page.index(words)
        for words in ("Who points where?", 'class="plan map"', "OTR ", "How does it add up?")
    ]
    assert order == sorted(order)
    off_axis = next(row["value"] for row in finding.evidence if "off axis toward the victim" in row["name"])
    assert f'data-label="off axis (°)">{off_axis:.1f}<' in page
    assert page.count("The arithmetic, added from top to bottom") == 1


@pytest.mark.parametrize("links", [2, 4])
def test_the_page_of_a_finding_asks_a_fixed_number_of_queries(
    client: Client, links: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    crowded(Register(), links)
    page = reverse("finding", args=[worst().pk])
    with django_assert_num_queries(FINDING_QUERIES):
        client.get(page)


def test_a_finding_whose_stations_were_moved_says_that_the_picture_is_newer(
    client: Client, network: list[Link]
) -> None:
    finding = worst()
    assert finding.link is not None
    stations = list(finding.link.stations.all())
    for station in stations:
        station.site = site(f"P-{station.label}", 47.5, 14.0 + (station.label == "B") * 0.2)
    save_link(finding.link, stations, by=TESTS)

    assert "Something was changed since this finding was made" in text(
        client.get(reverse("finding", args=[finding.pk]))
    )


def test_a_finding_that_is_gone_is_not_drawn(client: Client, network: list[Link]) -> None:
    finding = worst()
    Finding.objects.filter(pk=finding.pk).update(gone_at=finding.last_seen_at)

    page = text(client.get(reverse("finding", args=[finding.pk])))

    assert "Gone since" in page and "Who points where?" not in page


def test_a_live_answer_on_the_findings_own_page_leaves_the_arithmetic_where_it_is(
    client: Client, network: list[Link]
) -> None:
    finding = worst()
    own = reverse("finding", args=[finding.pk])
    headers = {"HX-Request": "true", "HX-Current-URL": f"http://testserver{own}"}
    elsewhere = {**headers, "HX-Current-URL": "http://testserver/links/1/"}

    there = client.post(reverse("finding-accept", args=[finding.pk]), {"reason": ""}, headers=headers)
    here = client.post(reverse("finding-accept", args=[finding.pk]), {"reason": ""}, headers=elsewhere)

    assert "The arithmetic, added" not in text(there)
    assert "The arithmetic, added" in text(here)
