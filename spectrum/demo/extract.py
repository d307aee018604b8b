"""Two extracts of an invented authority's register, as it would publish them: the second differs in known ways."""

from __future__ import annotations

import csv
import datetime as dt
import io
from typing import Any

from licences.models import Licence, LicensedChannel
from sites.services.record import Author
from spectrum.models import Link, Station
from spectrum.services.extracts import described, import_extract

from .parties import KLSO, OWN
from .world import World

LICENCES = 6
CODE = "klso_fixed"
_HEADS = {
    "licence_number": "licence", "holder": "holder", "service": "service", "granted_on": "granted",
    "in_force_from": "in force from", "expires_on": "expires", "tx_latitude": "tx latitude",
    "tx_longitude": "tx longitude", "rx_latitude": "rx latitude", "rx_longitude": "rx longitude", "tx_frequency": "MHz",
}  # fmt: skip
_MOVED_DEG = 0.0042
"""Some 470 m along the meridian: a slip of a quarter of a minute, as found in every such register."""
Row = dict[str, Any]


def import_extracts(world: World, by: Author) -> None:
    """Bring in the extract of last spring, in which all agrees, and the one of two days ago, in which five things do not."""
    mapping = _mapping()
    rows = _rows()
    _bring(rows, "klso_spring.csv", mapping, world.day(-210), by)
    _bring(_slipped(rows, world), "klso_autumn.csv", mapping, world.day(-2), by)


def _slipped(rows: list[Row], world: World) -> list[Row]:
    """The rows as the authority holds them after its own slips."""
    numbers = list(dict.fromkeys(row["licence"] for row in rows))
    slipped = [dict(row) for row in rows if row["licence"] != numbers[-1]]
    for row in slipped:
        if row["licence"] == numbers[0]:
            row["expires"] = world.day(190).isoformat()
        if row["licence"] == numbers[1]:
            row["service"] = "fixed, emergency"
    moved = next(row for row in slipped if row["licence"] == numbers[2])
    moved["tx latitude"] = f"{float(moved['tx latitude']) + _MOVED_DEG:.6f}"
    added = next(row for row in slipped if row["licence"] == numbers[3])
    slipped.append({**added, "MHz": f"{float(added['MHz']) + 0.2:.5f}"})
    return slipped


def _rows() -> list[Row]:
    """What a few licences of ours allow, a row for each channel of a link: as licensed, to the other end."""
    stations = (
        Station.objects.filter(
            link__holder__name=OWN,
            link__kind=Link.Kind.POINT_TO_POINT,
            link__status=Link.Status.ON_AIR,
            licensed_channel__licence__authority__code=KLSO,
            licensed_channel__licence__ended_on=None,
            licensed_channel__licence__granted_on__isnull=False,
            licensed_channel__site__isnull=False,
            licensed_channel__ended_on=None,
        )
        .select_related("licensed_channel__licence", "licensed_channel__site", "site")
        .order_by("licensed_channel__licence__number", "label")
    )
    chosen: dict[str, list[Row]] = {}
    for station in stations:
        other = (
            Station.objects.filter(link=station.link_id).exclude(pk=station.pk).select_related("site").first()
        )
        channel = station.licensed_channel
        if other is None or channel is None:
            continue
        licence = channel.licence
        if licence.number not in chosen and len(chosen) == LICENCES:
            break
        chosen.setdefault(licence.number, []).append(_row(licence, channel, other))
    return [row for rows in chosen.values() for row in rows]


def _row(licence: Licence, channel: LicensedChannel, other: Station) -> Row:
    at: Any = channel.site if channel.latitude_deg is None else channel
    days = (licence.granted_on, licence.in_force_from, licence.expires_on)
    values = [
        licence.number, OWN, licence.service, *(_day(day) for day in days), f"{at.latitude_deg:.6f}",
        f"{at.longitude_deg:.6f}", f"{other.site.latitude_deg:.6f}", f"{other.site.longitude_deg:.6f}",
        f"{channel.frequency_hz / 1e6:.5f}",
    ]  # fmt: skip
    return dict(zip(_HEADS.values(), values, strict=True))


def _day(day: dt.date | None) -> str:
    return day.isoformat() if day else ""


def _bring(rows: list[Row], name: str, mapping: Any, day: dt.date, by: Author) -> None:
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=list(_HEADS.values()))
    writer.writeheader()
    writer.writerows(rows)
    import_extract(out.getvalue().encode(), name, described(mapping), by=by, as_of=day)


def _mapping() -> dict[str, Any]:
    """How the authority's file is read. Its rows here are all ours, so nothing stands in for other parties' equipment."""
    band = {
        "name": "UHF", "from_mhz": 380, "to_mhz": 470, "radio_type": "as licensed", "mode": "as licensed",
        "antenna_type": "as licensed", "tx_power_dbm": 37, "channel_width_khz": 25,
    }  # fmt: skip
    vhf = {**band, "name": "VHF", "from_mhz": 30, "to_mhz": 380}
    return {
        "code": CODE,
        "title": "Fixed links of the lower valley",
        "authority": {"code": KLSO},
        "columns": _HEADS,
        "reading": {"position_accuracy_m": 10},
        "own_registrants": [OWN],
        "stand_ins": {"bands": [band, vhf], "antenna_height_agl_m": 20, "polarisation": "V"},
    }
