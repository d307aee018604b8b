"""The pictures of the demo's findings: they show the figures of the evidence, and their words do not overlap."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pytest

from spectrum.conflicts import sensitivity
from spectrum.conflicts.kinds import SITE_KINDS
from spectrum.models import Finding
from spectrum.services.finding_pictures import Pictures, pictures_of
from tests.spectrum.demo.conftest import Demo

pytestmark = pytest.mark.django_db

AT_MOST_OF_A_KIND = 4


def drawn(demo: Demo, kind: str) -> list[tuple[Finding, Pictures]]:
    """The findings of a kind, the worst first, with their pictures; there is one at least."""
    found = Finding.objects.select_related("link", "other_link", "site").filter(kind=kind, gone_at=None)
    rows = [
        (f, pictures_of(f, as_of=demo.today)) for f in found.order_by("rank", "margin")[:AT_MOST_OF_A_KIND]
    ]
    assert rows, kind
    for finding, pictures in rows:
        assert pictures.said == "", finding.headline
    return rows


def values(finding: Finding) -> dict[str, Any]:
    return {row["name"]: row["value"] for row in finding.evidence}


@pytest.mark.parametrize("kind", sensitivity.KINDS)
def test_an_interference_finding_is_drawn_from_the_figures_of_its_evidence(demo: Demo, kind: str) -> None:
    for finding, pictures in drawn(demo, kind):
        assert pictures.interferers is not None and pictures.masks is not None
        stated = values(finding)
        for one in pictures.interferers.strongest:
            if kind == sensitivity.AGGREGATE_KIND:
                assert stated[one.sender.name] == pytest.approx(one.level_dbm, abs=1e-3)
                continue
            for name, angle in (
                (f"{one.sender.name}: off axis toward the victim", one.sender_off_axis_deg),
                (f"{one.victim.name}: off axis toward the interferer", one.victim_off_axis_deg),
            ):
                if np.isnan(angle):
                    assert stated[name] == "no boresight"
                else:
                    assert stated[name] == pytest.approx(angle, abs=1e-3)
            assert stated["Frequency-dependent rejection"] == pytest.approx(-one.fdr_db, abs=1e-3)
            assert one.otr_db + one.ofr_db == pytest.approx(one.fdr_db)
        if pictures.map is not None:
            assert not any(a.box.overlaps(b.box) for a, b in combinations(pictures.map.words, 2)), (
                finding.headline
            )


@pytest.mark.parametrize("kind", ["receiver_blocking", "transmitter_noise"])
def test_levels_at_a_site_are_those_of_the_evidence(demo: Demo, kind: str) -> None:
    for finding, pictures in drawn(demo, kind):
        stated = values(finding)
        single = stated.get(
            "Carrier at the receiver's input", stated.get("Transmitter noise at the receiver's input")
        )
        for one in pictures.arrivals:
            said = single if finding.other_link is not None else stated.get(one.name)
            if said is not None:
                assert one.arrives_dbm == pytest.approx(said, abs=1e-3)
        if finding.margin is not None and finding.other_link is not None:
            assert pictures.limit_dbm is not None
            assert pictures.limit_dbm - pictures.arrivals[0].arrives_dbm == pytest.approx(
                finding.margin, abs=1e-3
            )


def test_products_are_drawn_in_the_order_of_the_evidence(demo: Demo) -> None:
    for finding, pictures in drawn(demo, "intermodulation"):
        stated = [(row["name"], row["value"]) for row in finding.evidence if row["unit"] == "MHz"]
        shown = [(row.mix, row.product_hz / 1e6) for row in pictures.product_rows]
        # Where the third order stays below, the finding begins with a later product.
        assert set(stated) & set(shown)
        if finding.margin is not None:
            assert shown == stated
            assert pictures.product_rows[0].margin_db == pytest.approx(finding.margin, abs=1e-3)


@pytest.mark.parametrize("kind", [*sensitivity.KINDS, *sorted(SITE_KINDS)])
def test_every_kind_with_a_place_is_drawn(demo: Demo, kind: str) -> None:
    assert all(pictures.any for _, pictures in drawn(demo, kind))
