"""Remotes that a hub polls answer in turn: at a receiver only the strongest of them counts in the sum."""

from __future__ import annotations

import pytest

from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.evidence import adds_up, rows_as_json
from spectrum.conflicts.interference import interference_findings
from spectrum.conflicts.network import Network, StationRecord
from tests.spectrum.conflicts.made import TODAY, link, station

VICTIM = station(link(9), "B", latitude_deg=47.5, tx_frequency_hz=None)


def remote(number: int, of: int, label: str, latitude_deg: float = 47.0) -> StationRecord:
    return station(
        link(of, kind="ptmp"), label, id=number, role="remote", latitude_deg=latitude_deg, rx_frequency_hz=None,
        tx_frequency_hz=410_000_000,
    )  # fmt: skip


def findings(*senders: StationRecord) -> tuple[list[Draft], list[Draft]]:
    drafts = interference_findings(Network(as_of=TODAY, stations=[*senders, VICTIM]), Criteria()).drafts
    return [d for d in drafts if d.kind == "co_channel"], [d for d in drafts if d.kind == "aggregate"]


def test_remotes_of_one_hub_make_no_sum() -> None:
    single, summed = findings(remote(1, 1, "R1"), remote(2, 1, "R2"), remote(3, 1, "R3"))
    assert len(single) == 3
    assert summed == []


def test_remotes_of_two_hubs_count_once_each_with_the_strongest() -> None:
    _, (summed,) = findings(
        remote(1, 1, "R1"), remote(2, 1, "R2", 47.01), remote(3, 2, "R1"), remote(4, 2, "R2", 46.99)
    )  # fmt: skip
    rows = rows_as_json(summed.evidence)
    assert [row["name"] for row in rows if row["role"] == "power"] == ["L-001/R2", "L-002/R1"]
    assert rows[0]["value"] == pytest.approx(2.0)
    assert summed.margin is not None
    assert adds_up(rows, summed.margin)


def test_ends_of_other_links_are_summed_with_them() -> None:
    end = station(link(5), "A", rx_frequency_hz=None)
    _, (summed,) = findings(remote(1, 1, "R1"), remote(2, 1, "R2"), end)
    assert sum(row.role == "power" for row in summed.evidence) == 2
