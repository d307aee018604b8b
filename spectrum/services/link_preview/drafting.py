"""A link that is being typed as records of the engine: loose copies, with what is not known left out."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from licences.models import Holder
from spectrum.conflicts.gather import drafted_network
from spectrum.conflicts.network import StationRecord
from spectrum.models import Link, Station

# A link that is not in the register goes by this number, so that nothing can be taken for it.
NEW_LINK = -1
UNNAMED = "new link"

# A value that was read breaks a rule of the register, and it is not said which one.
SOMETHING = "something"

_FOR_A_RECORD = ("site", "antenna_height_agl_m", "antenna_type", "mode", "polarisation")
_NONE_WHERE_UNKNOWN = ("azimuth_deg", "tilt_deg", "tx_power_dbm", "tx_frequency_hz", "rx_frequency_hz")
_ZERO_WHERE_UNKNOWN = ("feeder_loss_db", "duplexer_loss_db")
# Where these could not be read, a level computed without them would be taken for the link's own.
_IN_EVERY_LEVEL = frozenset((*_ZERO_WHERE_UNKNOWN, "azimuth_deg", "tilt_deg"))


@dataclass(frozen=True)
class DraftStation:
    """A station as it is being typed. ``unknown`` are its fields that could not be read or are missing."""

    station: Station
    name: str
    unknown: frozenset[str] = frozenset()

    @property
    def is_placed(self) -> bool:
        """Whether its site is known."""
        return "site" not in self.unknown and self.station.site_id is not None

    @property
    def height_agl_m(self) -> float | None:
        """Its antenna height above ground in m, where that is known."""
        unknown = self.unknown & {SOMETHING, "antenna_height_agl_m"}
        return None if unknown else self.station.antenna_height_agl_m

    @property
    def is_complete(self) -> bool:
        """Whether the engine can take it at all, even if no level follows yet."""
        return not self.unknown & {SOMETHING, *_FOR_A_RECORD} and all(
            getattr(self.station, field) not in (None, "")
            for field in ("site_id", "antenna_height_agl_m", "antenna_type_id", "mode_id", "polarisation")
        )

    @property
    def has_levels(self) -> bool:
        """Whether what every level depends on could be read."""
        return not self.unknown & _IN_EVERY_LEVEL


def loose_link(link: Link) -> Link:
    """A copy of a link that can be read without its code being typed yet; it belongs to nothing stored."""
    loose = copy.copy(link)
    loose.code = link.code or UNNAMED
    if not link.holder_id:
        loose.holder = Holder(own=True)  # levels do not ask whose it is, and findings wait until it is said
    return loose


def records_of(link: Link, drafts: Sequence[DraftStation], as_of: dt.date) -> list[StationRecord]:
    """Complete stations as records, in the order given, with the keys of those that are in the register.

    A link or station that is not in the register has a number below zero.
    """
    rows = []
    for draft in drafts:
        row = copy.copy(draft.station)
        for field in _NONE_WHERE_UNKNOWN:
            if field in draft.unknown:
                setattr(row, field, None)
        for field in _ZERO_WHERE_UNKNOWN:
            if field in draft.unknown:
                setattr(row, field, 0.0)
        if "licensed_channel" in draft.unknown:
            row.licensed_channel = None
        rows.append(row)
    key = link.pk or NEW_LINK
    drafted = drafted_network([(loose_link(link), rows)], as_of).stations
    return [
        replace(record, id=draft.station.pk or -record.id, link=replace(record.link, id=key))
        for record, draft in zip(drafted, drafts, strict=True)
    ]
