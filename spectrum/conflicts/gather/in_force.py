"""What all stations share, and what is in force for a check: equipment, criteria, terrain."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from sites.models import AntennaType
from sites.terrain import TerrainStore, shared_store
from spectrum.conflicts.criteria import BandCriterion, Criteria
from spectrum.conflicts.network import FAR_PAST, AntennaRecord, ModeRecord, PlanRecord
from spectrum.models import ChannelPlan, ProtectionCriterion
from spectrum.radio.propagation.p452 import Climate

from .records import Gatherer


@dataclass(frozen=True)
class Shared:
    """What many stations share, by its key in the register."""

    antennas: dict[int, AntennaRecord]
    modes: dict[int, ModeRecord]
    plans: dict[int, PlanRecord]


def shared_in_force() -> Shared:
    """Every antenna type, mode and channel plan of the register."""
    gatherer = Gatherer(FAR_PAST)
    plans = {row.pk: gatherer.plan(row) for row in ChannelPlan.objects.all()}
    return Shared(
        antennas={row.pk: gatherer.antenna(row) for row in AntennaType.objects.order_by("pk")},
        modes=dict(sorted(gatherer.modes.items())),
        plans={key: plan for key, plan in plans.items() if plan is not None},
    )


def criteria_in_force() -> Criteria:
    """The criteria of the register: the authority's own first, then the narrower band."""
    rows = ProtectionCriterion.objects.select_related("authority")
    bands = [
        BandCriterion(
            name=row.name,
            frequency_min_mhz=row.frequency_min_mhz,
            frequency_max_mhz=row.frequency_max_mhz,
            authority=row.authority.code if row.authority else "",
            i_over_n_limit_db=row.i_over_n_limit_db,
            long_term_time_percent=row.long_term_time_percent,
            aggregate_i_over_n_limit_db=row.aggregate_i_over_n_limit_db,
            short_term_time_percent=row.short_term_time_percent,
            source=row.source,
        )
        for row in rows
    ]
    bands.sort(key=lambda b: (b.authority == "", b.frequency_max_mhz - b.frequency_min_mhz, b.name))
    return Criteria(
        bands=tuple(bands), climate=Climate(**settings.RADIO_CLIMATE), **settings.SITE_DISTANCES_M
    )


def antenna_records() -> list[AntennaRecord]:
    """Every antenna type of the register, by name."""
    gatherer = Gatherer(dt.date.min)
    return [gatherer.antenna(row) for row in AntennaType.objects.order_by("name")]


def terrain_in_force() -> TerrainStore | None:
    """The terrain tiles of the installation, if a folder of them is set and holds any."""
    folder = Path(settings.TERRAIN_DIR) if settings.TERRAIN_DIR else None
    if folder is None or not folder.is_dir():
        return None
    return shared_store(folder)
