"""What would cure an interference finding, computed on the register as it stands; nothing is stored."""

from __future__ import annotations

import math

from django.utils import timezone

from sites.errors import StaleWriteError
from spectrum.conflicts.cures import KINDS, Cures, cures_of_case
from spectrum.conflicts.gather import antenna_records, criteria_in_force, terrain_in_force
from spectrum.models import Finding

from .sensitivity import case_of


def cures_of(finding: Finding) -> Cures | None:
    """The changes tried on the pair of a finding; None where no single pair stands behind it any more."""
    if finding.kind not in KINDS or finding.gone_at is not None or finding.link_id == finding.other_link_id:
        return None
    try:
        network, case = case_of(finding, timezone.localdate())
    except StaleWriteError:
        return None
    found = cures_of_case(network, criteria_in_force(), case, antenna_records(), terrain_in_force())
    return found if math.isfinite(found.margin_db) else None
