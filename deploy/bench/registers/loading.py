"""A made register as rows of the database, in bulk and recorded like everything else that is entered."""

from __future__ import annotations

from typing import Any

import numpy as np

from licences.models import Holder
from sites.models import AntennaType, Site
from sites.services import record
from sites.services.record import Author
from spectrum.conflicts.columns import ROLES
from spectrum.conflicts.snapshot import Register
from spectrum.models import Link, RadioMode, RadioType, Station

AUTHOR = Author.system("bench")


def load_into_database(register: Register) -> None:
    """Enter every site, link and station of a made register; the database must be empty of them."""
    c, w, tables = register.columns, register.words, register.tables

    def enter(rows: list[Any]) -> list[Any]:
        return record.create_many(rows, by=AUTHOR, validate=False)

    own, other = enter([Holder(name="Own", own=True), Holder(name="Other")])
    antennas = enter(
        [
            AntennaType(
                name=a.name,
                pattern=a.pattern,
                gain_dbi=a.gain_dbi,
                frequency_min_mhz=a.frequency_min_mhz,
                frequency_max_mhz=a.frequency_max_mhz,
                cross_polar_discrimination_db=a.cross_polar_discrimination_db,
                diameter_m=a.diameter_m,
                pattern_points=[list(p) for p in a.points],
            )
            for a in tables.antennas
        ]
    )
    radio = enter(
        [
            RadioType(
                name="Invented radio",
                tuning_min_mhz=100.0,
                tuning_max_mhz=20_000.0,
                power_min_dbm=0.0,
                power_max_dbm=43.0,
            )
        ]
    )[0]
    modes = enter(
        [
            RadioMode(
                radio_type=radio,
                label=f"{m.channel_width_hz / 1e3:g} kHz",
                channel_width_hz=m.channel_width_hz,
                emission_designator=m.emission_designator,
                occupied_bandwidth_hz=m.occupied_bandwidth_hz,
                modulation=m.modulation,
                bit_rate_kbps=19.2,
                receiver_threshold_dbm=-100.0,
                required_ci_db=m.required_ci_db,
            )
            for m in tables.modes
        ]
    )
    _, first = np.unique(w.site, return_index=True)
    at = dict(zip(w.site[first].tolist(), first.tolist(), strict=True))
    rows = [
        Site(
            code=str(register.sites.code[number]),
            name=f"Place {number}",
            latitude_deg=float(c.latitude_deg[i]),
            longitude_deg=float(c.longitude_deg[i]),
            position_typed=f"{c.latitude_deg[i]} {c.longitude_deg[i]}",
            ground_height_m=float(c.ground_height_m[i]),
        )
        for number, i in at.items()
    ]
    sites = dict(zip(at, enter(rows), strict=True))
    links = enter(
        [
            Link(
                code=str(code),
                holder=own if holder == 0 else other,
                status=Link.Status.ON_AIR,
            )
            for code, holder in zip(register.links.code, register.links.holder.tolist(), strict=True)
        ]
    )
    enter(
        [
            Station(
                link=links[w.link[i]],
                role=ROLES[c.role[i]],
                label=tables.labels[w.label[i]],
                site=sites[int(w.site[i])],
                antenna_type=antennas[c.antenna[i]],
                antenna_height_agl_m=float(c.antenna_height_agl_m[i]),
                polarisation="V" if c.vertical[i] else "H",
                feeder_loss_db=float(c.line_losses_db[i]),
                radio_type=radio,
                mode=modes[c.mode[i]],
                tx_power_dbm=float(c.tx_power_dbm[i]),
                tx_frequency_hz=int(c.tx_hz[i]),
                rx_frequency_hz=int(c.rx_hz[i]),
            )
            for i in range(len(register))
        ]
    )


def enter_findings(links: int) -> None:
    """An open finding for every tenth link, the weights in turn."""
    from django.utils import timezone

    from spectrum.models import Finding, Link

    now = timezone.now()
    rows = [
        Finding(
            identity=str(pk), kind="co_channel", severity=("must_fix", "decide", "note")[i % 3], rank=i % 3,
            headline="Invented", link_id=pk, first_seen_at=now, last_seen_at=now,
        )
        for i, pk in enumerate(Link.objects.order_by("pk").values_list("pk", flat=True)[:: 10 if links > 9 else 1])
    ]  # fmt: skip
    Finding.objects.bulk_create(rows, batch_size=500)
