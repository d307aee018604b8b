"""Small registers for tests, entered through the services like everything else. All invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from django.contrib.auth.models import Permission

from licences.models import Authority, Holder, Licence, LicensedChannel, RenewalPolicy
from sites.models import AntennaType, Person, Site
from sites.services import record
from sites.services.record import Author
from spectrum.models import Link, RadioMode, RadioType, Station
from spectrum.services.links import save_link

TESTS = Author.system("tests")
TODAY = dt.date(2026, 6, 1)
DAY = dt.timedelta(days=1)


def person(username: str, *permissions: str, **changes: Any) -> Person:
    """Somebody with just these permissions ("spectrum.accept_finding")."""
    made = Person.objects.create_user(
        username, f"{username}@example.org", "a good test password 1", **changes
    )
    for name in permissions:
        app, codename = name.split(".")
        made.user_permissions.add(Permission.objects.get(content_type__app_label=app, codename=codename))
    return made


def site(code: str, latitude_deg: float = 47.0, longitude_deg: float = 14.0, **changes: Any) -> Site:
    values = {
        "name": f"Place {code}",
        "latitude_deg": latitude_deg,
        "longitude_deg": longitude_deg,
        "position_typed": f"{latitude_deg} {longitude_deg}",
        "ground_height_m": 500.0,
        **changes,
    }
    return record.create(Site(code=code, **values), by=TESTS)


@dataclass
class Register:
    """One of each thing that a link needs, and links on demand."""

    own: Holder = field(init=False)
    other: Holder = field(init=False)
    authority: Authority = field(init=False)
    antenna: AntennaType = field(init=False)
    radio: RadioType = field(init=False)
    mode: RadioMode = field(init=False)

    def __post_init__(self) -> None:
        self.own = record.create(Holder(name="Own utility", own=True), by=TESTS)
        self.other = record.create(Holder(name="Other party"), by=TESTS)
        self.authority = record.create(Authority(code="AUT", name="Authority"), by=TESTS)
        record.create(RenewalPolicy(authority=self.authority), by=TESTS)
        self.antenna = record.create(
            AntennaType(
                name="Whip", gain_dbi=6.0, frequency_min_mhz=380, frequency_max_mhz=480, pattern="f1336_omni"
            ),
            by=TESTS,
        )
        self.radio = record.create(
            RadioType(
                name="Radio", tuning_min_mhz=380, tuning_max_mhz=480, power_min_dbm=20, power_max_dbm=43
            ),
            by=TESTS,
        )
        self.mode = record.create(
            RadioMode(
                radio_type=self.radio, label="25 kHz", channel_width_hz=25_000, emission_designator="16K0F1D",
                occupied_bandwidth_hz=16_000, modulation="4-FSK", bit_rate_kbps=19.2, receiver_threshold_dbm=-108,
                required_ci_db=18,
            ),
            by=TESTS,
        )  # fmt: skip

    def stations(self, *places: Site, **changes: Any) -> list[Station]:
        """Ends A and B, mirrored on 410/420 MHz; ``changes`` apply to both."""
        return [
            Station(
                role=label.lower(),
                label=label,
                site=place,
                antenna_type=self.antenna,
                radio_type=self.radio,
                mode=self.mode,
                **{
                    "antenna_height_agl_m": 20.0,
                    "tx_power_dbm": 37.0,
                    "tx_frequency_hz": 410_000_000 if label == "A" else 420_000_000,
                    "rx_frequency_hz": 420_000_000 if label == "A" else 410_000_000,
                    **changes,
                },
            )
            for label, place in zip("AB", places, strict=True)
        ]

    def link(self, code: str, *places: Site, stations: dict[str, Any] | None = None, **changes: Any) -> Link:
        values = {"holder": self.own, "status": Link.Status.PLANNED, **changes}
        return save_link(
            Link(code=code, **values),
            self.stations(*places, **(stations or {})),
            by=TESTS,
            clashes_are_findings=True,
        )

    def licence(self, number: str, **changes: Any) -> Licence:
        values = {
            "authority": self.authority,
            "holder": self.own,
            "granted_on": TODAY - 1000 * DAY,
            "in_force_from": TODAY - 900 * DAY,
            "expires_on": TODAY + 900 * DAY,
            **changes,
        }
        return record.create(Licence(number=number, **values), by=TESTS)

    def channel(self, licence: Licence, label: str = "1", **changes: Any) -> LicensedChannel:
        values = {
            "frequency_hz": 410_000_000,
            "channel_width_hz": 25_000,
            "emission_designators": ["16K0F1D"],
            "power_limit_dbm": 43.0,
            "power_kind": "erp",
            "tolerance_m": 100.0,
            **changes,
        }
        return record.create(LicensedChannel(licence=licence, label=label, **values), by=TESTS)
