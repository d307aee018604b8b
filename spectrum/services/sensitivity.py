"""How sure a finding's margin is: the same budget computed again with each assumption changed alone."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from django.utils import timezone
from django.utils.translation import gettext, gettext_noop

from sites.errors import RegisterError, StaleWriteError
from sites.saying import said
from sites.sentences import sentence
from spectrum.conflicts import sensitivity as engine
from spectrum.conflicts.gather import around_link, criteria_in_force, links_whole, terrain_in_force
from spectrum.conflicts.network import Network
from spectrum.models import Finding
from spectrum.wording import headline_of

# A margin that differs by more from the stored one was computed from other facts.
SAME_WITHIN_DB = 0.05


@dataclass(frozen=True)
class Answer:
    """The sensitivity, and a sentence where the register no longer gives the margin that the finding states."""

    sensitivity: engine.Sensitivity
    differs: str = ""


def is_judged(finding: Finding) -> bool:
    """Whether a finding's margin rests on assumptions that can be changed."""
    return finding.kind in engine.KINDS


def sensitivity_of(finding: Finding, *, as_of: dt.date | None = None) -> Answer:
    """Compute how the margin of an interference finding moves; nothing is stored.

    Raises RegisterError for findings of other kinds, and StaleWriteError where the stations of the
    finding are no longer live or no longer on these frequencies.
    """
    if not is_judged(finding):
        raise RegisterError(
            gettext(
                "Only the margin of an interference finding rests on assumptions that can be changed; "
                "this finding compares the register with itself."
            )
        )
    day = as_of or timezone.localdate()
    criteria, terrain = criteria_in_force(), terrain_in_force()
    network, case = case_of(finding, day)
    with np.errstate(invalid="ignore"):
        found = engine.sensitivity(network, criteria, case, terrain)
    if not np.isfinite(found.margin_db):
        raise StaleWriteError(_gone(finding))
    differs = ""
    if finding.margin is not None and abs(found.margin_db - finding.margin) > SAME_WITHIN_DB:
        differs = said(
            sentence(
                gettext_noop(
                    "The finding states {stated_db:+.1f} dB, the register as it stands gives {margin_db:+.1f} dB: "
                    "something was changed since. Check the link again."
                ),
                stated_db=finding.margin,
                margin_db=found.margin_db,
            )
        )
    return Answer(found, differs)


def case_of(finding: Finding, day: dt.date) -> tuple[Network, engine.Case]:
    """The links of a finding as they stand, and which stations it is about; StaleWriteError where they are gone."""
    if finding.link is None:
        raise StaleWriteError(_gone(finding))
    if finding.kind == engine.AGGREGATE_KIND:
        network = around_link(finding.link, day)
        victim = _station(network, finding.link_id, finding.station_label)
        if victim is None or network.rx_hz[victim] <= 0:
            raise StaleWriteError(_gone(finding))
        return network, engine.Case(finding.kind, victim)
    network = links_whole([n for n in (finding.link_id, finding.other_link_id) if n is not None], day)
    sender = _station(network, finding.link_id, finding.station_label)
    victim = _station(network, finding.other_link_id, finding.other_station_label)
    if sender is None or victim is None or network.tx_hz[sender] <= 0 or network.rx_hz[victim] <= 0:
        raise StaleWriteError(_gone(finding))
    return network, engine.Case(finding.kind, victim, sender)


def _station(network: Network, link_id: int | None, label: str) -> int | None:
    return next(
        (n for n, s in enumerate(network.stations) if s.link.id == link_id and s.label == label), None
    )


def _gone(finding: Finding) -> str:
    return gettext(
        "The stations of “{headline}” are no longer in the register as they were when it was found. "
        "Check the link again."
    ).format(headline=headline_of(finding))
