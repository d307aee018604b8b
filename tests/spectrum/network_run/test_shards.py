"""The check of the network in shards: the same findings whatever the number, and never half of them."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.db import OperationalError, connection
from django.db.models import Q

from deploy.bootstrap.running import ROOT
from sites.errors import RegisterError
from sites.models import Job
from sites.services import jobs
from spectrum.conflicts.gather import criteria_in_force, terrain_in_force, whole_network
from spectrum.conflicts.run import other_findings
from spectrum.demo.build import build
from spectrum.models import Check, Finding, Link, NetworkRun, Shard
from spectrum.services.checks import check_network
from spectrum.services.commissioning import as_found
from spectrum.services.links import save_link
from spectrum.services.network_run import help_with, plan, ready, working
from spectrum.services.network_run.finishing import digest_of
from spectrum.services.site_surroundings import all_sites
from tests.made import TESTS, TODAY, Register, site

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> None:
    settings.VAR_DIR = tmp_path


@pytest.fixture
def demo() -> None:
    build(TODAY)


@pytest.fixture
def few() -> Register:
    """Links that disturb one another."""
    register = Register()
    for n in range(6):
        register.link(f"L-{n}", site(f"S{n}A", 47.0 + n / 20), site(f"S{n}B", 47.2 + n / 20))
    return register


def digest(**options: Any) -> str:
    check = check_network(as_of=TODAY, **options)
    return NetworkRun.objects.get(check_row=check).digest


def stored() -> list[tuple[Any, ...]]:
    return list(Finding.objects.order_by("identity").values_list("identity", "headline", "margin", "gone_at"))


def test_the_findings_are_the_same_in_1_2_7_and_64_shards_and_with_helpers(demo: None) -> None:
    first = digest(shards=1)
    found = stored()
    assert len(found) > 20
    for shards in (2, 7, 64):
        assert digest(shards=shards) == first
        assert stored() == found
    run = plan(TODAY, shards=9)
    helped = help_with(run.pk)
    assert helped == 28
    assert digest(shards=9) == first
    assert stored() == found


DIGEST_ON_SQLITE = """
import django, sys, datetime as dt
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from spectrum.conflicts.gather import criteria_in_force, terrain_in_force, whole_network
from spectrum.conflicts.run import other_findings
from spectrum.demo.build import build
from spectrum.models import NetworkRun
from spectrum.services.checks import check_network
day = dt.date.fromisoformat(sys.argv[1])
build(day)
check_network(as_of=day, shards=5)
print(NetworkRun.objects.get().digest)
"""


@pytest.mark.postgres
def test_postgresql_finds_what_sqlite_finds(demo: None, tmp_path: Path) -> None:
    expected = digest(shards=7)
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        "DATABASE_URL": f"sqlite:///{tmp_path / 'other.sqlite3'}",
        "VAR_DIR": str(tmp_path),
    }
    other = subprocess.run(
        [sys.executable, "-c", DIGEST_ON_SQLITE, TODAY.isoformat()],
        cwd=ROOT, env=environment, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert other.returncode == 0, other.stderr
    assert other.stdout.strip() == expected


def test_a_second_run_changes_nothing(few: Register) -> None:
    check_network(as_of=TODAY, shards=3)
    before = stored()
    again = check_network(as_of=TODAY, shards=3)
    assert (again.counts["new"], again.counts["gone"]) == (0, 0)
    assert stored() == before


def test_a_shard_whose_worker_died_is_done_by_another(few: Register, settings: Any) -> None:
    expected = digest(shards=4)
    settings.JOBS_LEASE_S = 0.0
    run = plan(TODAY, shards=4)
    dead = working.claim(run)
    assert dead is not None
    settings.JOBS_LEASE_S = 60.0
    assert digest(shards=4) == expected
    assert not working.do(run, dead), "what it found is taken no more"
    assert NetworkRun.objects.get(pk=run.pk).state == "done"


def test_what_fails_is_carried_on_with_the_shards_that_are_done(
    few: Register, monkeypatch: pytest.MonkeyPatch
) -> None:
    expected = digest(shards=6)
    before = stored()
    compute, computed = working.compute, []

    def fail_at_the_fourth(run: NetworkRun, shard: Shard, tick: Any = None) -> Any:
        computed.append(shard.number)
        if len(computed) == 4:
            raise OSError("No space left on device")
        return compute(run, shard, tick)

    monkeypatch.setattr(working, "compute", fail_at_the_fourth)
    with pytest.raises(OSError, match="No space"):
        check_network(as_of=TODAY, shards=6)
    failed = NetworkRun.objects.get(state="failed")
    assert failed.error == "No space left on device"
    assert stored() == before
    assert digest(shards=6) == expected
    assert computed == [0, 1, 2, 3, *range(3, 19)]
    failed.refresh_from_db()
    assert failed.state == "done"


def test_findings_change_all_at_once_or_not_at_all(few: Register, monkeypatch: pytest.MonkeyPatch) -> None:
    check_network(as_of=TODAY, shards=3)
    before = stored()
    few.link("L-9", site("S1"), site("S2", 47.2))

    def fail(*args: Any, **kwargs: Any) -> None:
        raise OperationalError("server closed the connection unexpectedly")

    monkeypatch.setattr(Check.objects, "create", fail)
    with pytest.raises(OperationalError):
        check_network(as_of=TODAY, shards=3)
    assert stored() == before
    monkeypatch.undo()
    check_network(as_of=TODAY, shards=3)
    assert stored() != before


def test_a_link_that_is_edited_during_the_run_is_checked_again(
    few: Register, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    compute = working.compute
    link = Link.objects.filter(status="planned").first()
    assert link is not None

    def edit_meanwhile(run: NetworkRun, shard: Shard, tick: Any = None) -> Any:
        if shard.number == 2:
            stations = list(link.stations.all())
            stations[0].antenna_height_agl_m += 1.0
            save_link(link, stations, by=TESTS)
        return compute(run, shard, tick)

    monkeypatch.setattr(working, "compute", edit_meanwhile)
    Job.objects.all().delete()  # the checks that entering the links asked for
    with django_capture_on_commit_callbacks(execute=True):
        check = check_network(as_of=TODAY, shards=3)
    again = Check.objects.filter(link=link, started_at__gt=check.started_at)
    assert again.exists()


def test_what_is_about_a_removed_link_is_left_out(few: Register, monkeypatch: pytest.MonkeyPatch) -> None:
    compute = working.compute
    check_network(as_of=TODAY, shards=3)
    link = Finding.objects.filter(kind="co_channel", gone_at=None)[0].link
    assert link is not None
    key = link.pk

    def remove_meanwhile(run: NetworkRun, shard: Shard, tick: Any = None) -> Any:
        drafts = compute(run, shard, tick)
        if shard.number == 3:
            from spectrum.services.links import remove_link

            remove_link(link, by=TESTS)
        return drafts

    monkeypatch.setattr(working, "compute", remove_meanwhile)
    check_network(as_of=TODAY, shards=3)
    assert not Finding.objects.filter(other_link_id=key).exists()


def test_a_worker_with_other_settings_is_told(few: Register, settings: Any) -> None:
    run = plan(TODAY, shards=3)
    settings.RADIO_CLIMATE = {**settings.RADIO_CLIMATE, "surface_refractivity_n": 301.0}
    ready._kept.clear()  # as in another process
    with pytest.raises(RegisterError, match="other criteria, climate or terrain"):
        help_with(run.pk)


def test_a_helper_without_the_revision_leaves_the_shards_to_others(
    few: Register, settings: Any, tmp_path: Path
) -> None:
    run = plan(TODAY, shards=3)
    few.link("L-9", site("S1"), site("S2", 47.2))
    settings.VAR_DIR = tmp_path / "another machine"
    ready._kept.clear()
    assert help_with(run.pk) == 0
    assert not run.shards.filter(done_at__isnull=False).exists()
    assert not run.shards.filter(lease_until__isnull=False).exists()


def test_a_shard_that_kills_its_workers_ends_the_run_with_a_reason(few: Register) -> None:
    run = plan(TODAY, shards=3)
    run.shards.filter(number=1).update(attempts=working.MOST_ATTEMPTS)
    with pytest.raises(RegisterError, match=r"Shard 1 .* was begun 5 times and never ended"):
        check_network(as_of=TODAY, shards=3)
    run.refresh_from_db()
    assert run.state == "failed"
    assert not Check.objects.filter(scope="network").exists()


def test_a_cancelled_run_takes_no_more_shards(few: Register) -> None:
    def stop(done: int, total: int) -> None:
        if done == 2:
            raise jobs.JobCancelled

    with pytest.raises(jobs.JobCancelled):
        check_network(as_of=TODAY, shards=5, progress=stop)
    run = NetworkRun.objects.get()
    assert (run.state, run.shards.filter(done_at__isnull=False).count()) == ("cancelled", 2)
    assert help_with(run.pk) == 0
    assert not Finding.objects.exists()


@pytest.fixture
def in_threads() -> Iterator[Callable[[Callable[[], Any], int], list[Any]]]:
    def run(work: Callable[[], Any], count: int) -> list[Any]:
        results: list[Any] = []

        def one() -> None:
            try:
                results.append(work())
            finally:
                connection.close()

        threads = [threading.Thread(target=one) for _ in range(count)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return results

    yield run


@pytest.mark.django_db(transaction=True)
def test_workers_at_the_same_time_share_the_shards(
    in_threads: Callable[[Callable[[], Any], int], list[Any]],
) -> None:
    register = Register()
    for n in range(6):
        register.link(f"L-{n}", site(f"S{n}A", 47.0 + n / 20), site(f"S{n}B", 47.2 + n / 20))
    expected = digest(shards=12)
    run = plan(TODAY, shards=12)
    done = in_threads(lambda: help_with(run.pk), 4)
    assert sum(done) == 37
    assert digest(shards=12) == expected
    attempts = run.shards.values_list("attempts", flat=True)
    assert set(attempts) == {1}


@pytest.mark.django_db(transaction=True)
def test_a_shard_that_takes_longer_than_its_lease_stays_with_its_worker(
    settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.JOBS_LEASE_S = 1.0
    register = Register()
    register.link("L-1", site("S1"), site("S2", 47.2))
    run = plan(TODAY, shards=1)
    shard = working.claim(run)
    assert shard is not None
    signs: list[tuple[int, int]] = []

    def take_long(*args: Any) -> list[Any]:
        time.sleep(2.5)
        return []

    monkeypatch.setattr(working, "compute", take_long)
    assert working.do(run, shard, lambda done, total: signs.append((done, total)))
    assert len(signs) >= 5
    assert run.shards.get(pk=shard.pk).attempts == 1

    def stop(done: int, total: int) -> None:
        raise jobs.LeaseLost("given to another worker")

    other = working.claim(run)
    assert other is not None
    with pytest.raises(jobs.LeaseLost):
        working.do(run, other, stop)
    assert run.shards.get(pk=other.pk).done_at is None


def test_shards_of_sites_and_links_find_what_one_look_at_everything_finds(demo: None) -> None:
    """The cuts lose nothing and add nothing: against the records of the whole register at once."""
    network = whole_network(TODAY)
    found = other_findings(
        network,
        criteria_in_force(),
        at_sites=all_sites(network),
        as_found=as_found(Q(station__link__status__in=Link.LIVE)),
        terrain=terrain_in_force(),
    )
    run = plan(TODAY, shards=5)
    apart = [
        draft
        for shard in run.shards.exclude(kind=Shard.Kind.RECEIVERS)
        for draft in working.compute(run, shard)
    ]
    assert len(apart) == len({draft.identity for draft in apart})
    assert {d.kind for d in apart} > {"duplex_isolation", "channel_unused", "station_without_licence"}
    assert digest_of(apart) == digest_of(found)
