"""What the tests of the pages of links share: two sites to link, a link as it is typed, what is stored."""

from __future__ import annotations

from typing import Any

from spectrum.models import Link, Station
from tests.made import Register, site


def small_links() -> Register:
    """A register with two more sites, which a link that is typed may name."""
    made = Register()
    site("K-01")
    site("K-02", 47.2)
    return made


def text(answer: Any) -> str:
    return str(answer.content.decode())


def link_typed(register: Register, **changes: str) -> dict[str, str]:
    """A point-to-point link as a planner types it: end B only where it differs."""
    return {
        "code": "L-1",
        "holder": str(register.own.pk),
        "status": "planned",
        "a-site": "k-01",
        "a-antenna_height_agl_m": "20",
        "a-antenna_type": str(register.antenna.pk),
        "a-polarisation": "V",
        "a-feeder_loss_db": "1,5",
        "a-duplexer_loss_db": "",
        "a-mode": str(register.mode.pk),
        "a-tx_frequency_mhz": "410.0125",
        "a-rx_frequency_mhz": "420.0125",
        "a-tx_power_dbm": "5 W",
        "b-site": "K-02",
        "b-antenna_height_agl_m": "12.5",
        **changes,
    }


def stations(code: str = "L-1") -> dict[str, Station]:
    return {station.label: station for station in Link.objects.get(code=code).stations.all()}
