"""The first line of a link's page: what must be fixed or decided about it, apart from what stands at its sites."""

from __future__ import annotations

import datetime as dt

import pytest

from licences.models import Holder
from spectrum.answers import answer
from spectrum.models import Check, Finding, Link

CHECKED = dt.datetime(2026, 6, 1, 12, tzinfo=dt.UTC)
THIS, ANOTHER, A_THIRD = 1, 2, 3


def found(severity: str, link_id: int, other_link_id: int | None = None) -> Finding:
    return Finding(severity=severity, link_id=link_id, other_link_id=other_link_id, headline=f"Of {link_id}")


def said(status: Link.Status, *findings: Finding) -> tuple[str, str]:
    link = Link(pk=THIS, status=status, holder=Holder(own=True), changed_at=CHECKED)
    answered = answer(link, findings, Check(started_at=CHECKED))
    return answered.side, answered.sentence


def test_its_own_findings_are_counted_apart_from_those_at_its_sites() -> None:
    others = [found("must_fix", ANOTHER, A_THIRD), found("must_fix", A_THIRD)]
    assert said(Link.Status.PLANNED, *others, found("must_fix", ANOTHER, THIS), found("decide", THIS)) == (
        "no",
        f"No: 1 finding must be fixed. First: Of {ANOTHER}. "
        "2 more stand at its sites, where it may take part.",
    )


@pytest.mark.parametrize("severity", ["must_fix", "decide"])
@pytest.mark.parametrize("status", [Link.Status.PLANNED, Link.Status.ON_AIR])
def test_what_stands_only_at_its_sites_is_said_to_and_never_called_clear(
    severity: str, status: Link.Status
) -> None:
    side, sentence = said(status, found(severity, ANOTHER))
    assert side == {"must_fix": "no", "decide": "decide"}[severity]
    assert "at its sites" in sentence
    assert "may " in sentence


@pytest.mark.parametrize(
    ("status", "begins"),
    [
        (Link.Status.PLANNED, "Not before 1 finding is decided."),
        (Link.Status.GRANTED, "Not before 1 finding is decided."),
        (Link.Status.FILED, "Not settled: 1 finding waits for a decision."),
        (Link.Status.ON_AIR, "Not settled: 1 finding waits for a decision."),
    ],
)
def test_the_answer_fits_the_question(status: Link.Status, begins: str) -> None:
    assert said(status, found("decide", THIS)) == ("decide", f"{begins} First: Of {THIS}.")
