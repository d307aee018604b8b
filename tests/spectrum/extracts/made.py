"""A small extract and its mapping. Everything in it is invented."""

from __future__ import annotations

import csv
import io
from copy import deepcopy
from typing import Any

from spectrum.extracts.mapping import Mapping

HEADINGS = [
    "Number", "Holder", "Holder no", "Service", "State", "Granted", "Ended", "Expires", "From lat", "From lon",
    "From ground", "To lat", "To lon", "To ground", "MHz", "Km",
]  # fmt: skip
BASE = {
    "Number": "F-100", "Holder": "Valley Rail", "Holder no": "7", "Service": "fixed", "State": "live",
    "Granted": "2018-05-01", "Ended": "", "Expires": "2030-05-01", "From lat": "47.00000", "From lon": "14.00000",
    "From ground": "500", "To lat": "47.10000", "To lon": "14.20000", "To ground": "700", "MHz": "6010.5", "Km": "18.823",
}  # fmt: skip
COLUMNS = {
    "licence_number": "Number",
    "holder": "Holder",
    "holder_id": "Holder no",
    "service": "Service",
    "status": "State",
    "granted_on": "Granted",
    "ended_on": "Ended",
    "expires_on": "Expires",
    "tx_latitude": "From lat",
    "tx_longitude": "From lon",
    "tx_ground_height_m": "From ground",
    "rx_latitude": "To lat",
    "rx_longitude": "To lon",
    "rx_ground_height_m": "To ground",
    "tx_frequency": "MHz",
    "stated_path_km": "Km",
}
BAND = {
    "name": "6 GHz",
    "from_mhz": 5925,
    "to_mhz": 6425,
    "halves_meet_mhz": 6175,
    "radio_type": "Some radio",
    "mode": "30 MHz",
    "antenna_type": "Some dish",
    "tx_power_dbm": 30,
    "channel_width_khz": 30000,
}
DESCRIPTION: dict[str, Any] = {
    "code": "valley_fixed",
    "title": "Fixed links of the valley",
    "authority": {"code": "VRA", "name": "Valley Radio Authority", "country": "Valley"},
    "columns": COLUMNS,
    "reading": {"position_accuracy_m": 5},
    "statuses": {"in_use": ["live"], "ended": ["gone"]},
    "own_registrants": ["Own Grid Company"],
    "stand_ins": {
        "antenna_height_agl_m": 25,
        "polarisation": "V",
        "bands": [BAND],
        "radio_types": [
            {
                "name": "Some radio", "tuning_min_mhz": 5800, "tuning_max_mhz": 6500, "power_min_dbm": 0,
                "power_max_dbm": 33,
                "modes": [
                    {
                        "label": "30 MHz", "channel_width_hz": 30_000_000, "emission_designator": "30M0D7W",
                        "occupied_bandwidth_hz": 27_000_000, "modulation": "64-QAM", "bit_rate_kbps": 135_000,
                        "receiver_threshold_dbm": -70, "required_ci_db": 30,
                    }
                ],
            }
        ],
        "antenna_types": [
            {
                "name": "Some dish", "gain_dbi": 38.8, "frequency_min_mhz": 5800, "frequency_max_mhz": 6500,
                "pattern": "f699", "diameter_m": 1.8,
            }
        ],
    },
}  # fmt: skip


def description(**changes: Any) -> dict[str, Any]:
    """The mapping as its JSON file has it; a value replaces a part, a dict is merged into it."""
    made = deepcopy(DESCRIPTION)
    for part, value in changes.items():
        made[part] = (
            {**made[part], **value} if isinstance(value, dict) and isinstance(made.get(part), dict) else value
        )
    return made


def mapping(**changes: Any) -> Mapping:
    d = description(**changes)
    return Mapping.of(
        code=d["code"],
        authority_code=d["authority"]["code"],
        columns=d["columns"],
        reading=d["reading"],
        statuses=d["statuses"],
        key=d.get("key", []),
        own_registrants=d["own_registrants"],
        stand_ins=d["stand_ins"],
    )


def row(**changes: Any) -> dict[str, str]:
    """The base row; spaces in headings are written as underscores: From_lat="47.5"."""
    return {**BASE, **{name.replace("_", " "): str(value) for name, value in changes.items()}}


def csv_bytes(
    *rows: dict[str, str], delimiter: str = ",", encoding: str = "utf-8", headings: Any = None
) -> bytes:
    out = io.StringIO()
    names = headings or HEADINGS
    writer = csv.writer(out, delimiter=delimiter)
    writer.writerow(names)
    writer.writerows([r.get(name, "") for name in names] for r in rows)
    return out.getvalue().encode(encoding)
