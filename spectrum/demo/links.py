"""The regular links of the demo: what a utility has, and what stands around it. None of them is in trouble.

In every band the places on the valley floor transmit the go (lower) frequency and the hills the return
(higher) one, so that no site hears in the half in which it sends.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sites.geodesy import inverse
from sites.models import Site
from spectrum.models import Link, Station

from .parties import OTHERS, OWN, RAIL, RESCUE, STONE, TIMBER, WATER
from .world import Drafted, Network, World

PTP, PTMP = Link.Kind.POINT_TO_POINT, Link.Kind.POINT_TO_MULTIPOINT
ASSUMED = (
    "Antenna, power and line losses are assumed from the licence class; the holder has not confirmed them."
)
# What the places along the valley use in turn: channel plan and mode.
NARROW_41 = (
    ("U41-25", "25 kHz 4-FSK"), ("U41-12", "12.5 kHz 16-QAM"), ("U41-25", "25 kHz 16-QAM"), ("U41-12", "12.5 kHz 4-FSK"),
)  # fmt: skip
NARROW_45 = (
    ("U45-12", "12.5 kHz 4-FSK"), ("U45-25", "25 kHz 16-QAM"), ("U45-12", "12.5 kHz 16-QAM"), ("U45-25", "25 kHz 4-FSK"),
)  # fmt: skip
_YAGI = {"U41": "Yagi 410, 8 elements", "U45": "Yagi 455, 8 elements", "V16": "Yagi 160, 5 elements"}
_HOLDERS = {
    "X01": RAIL, "X02": RAIL, "X03": RAIL, "X04": RAIL, "X05": RAIL, "X06": RAIL, "X13": RESCUE, "X14": RESCUE,
    "X15": RESCUE, "X16": WATER, "X17": WATER, "X18": WATER, "X19": WATER, "X20": WATER, "X21": STONE, "X23": TIMBER,
}  # fmt: skip
_HIGH = ("X07", "X08", "X09", "X10", "X11", "X12", "X22", "X24")


def regular(world: World) -> Network:
    """All of them."""
    network = Network()
    valley = [s for code, s in world.sites.items() if code.startswith("V")]
    hills = [s for code, s in world.sites.items() if code.startswith("H")]
    for number, place in enumerate(valley):
        first, second, third = nearest(place, hills)[:3]
        plan, label = ("U41-300", "300 kHz 16-QAM") if number == 0 else NARROW_41[number % 4]
        network.add(_fixed(world, f"U41-{number + 1:03d}", plan, label, place, first, "telecontrol"))
        plan, label = _second_band(number)
        network.add(_fixed(world, f"U45-{number + 1:03d}", plan, label, place, second, "protection"))
        if number % 9 == 4:
            plan, label = NARROW_41[number % 4]
            network.add(_planned(world, number, plan, label, place, third))
    for number in range(len(hills) - 1):
        network.add(_microwave(world, number, hills[number], hills[number + 1]))
    network.add(_polling(world, "V16-001", "V16-12", "12.5 kHz 4-FSK", "H05", valley[1:26:2]))
    network.add(_polling(world, "V16-002", "V16-12", "12.5 kHz 4-FSK", "H12", valley[27:52:2]))
    network.add(_polling(world, "U45-101", "U45-12", "12.5 kHz 4-FSK", "H08", valley[2:34:2]))
    network.add(
        _polling(world, "U45-102", "U45-25", "25 kHz 4-FSK", "H09", valley[28:44:2], azimuth_deg=165.0)
    )
    _others(world, network)
    return network


def nearest(place: Site, among: list[Site], *, least_km: float = 3.0) -> list[Site]:
    """Sites by their distance from a place, without those nearer than ``least_km``."""
    length_m = inverse(
        np.full(len(among), place.latitude_deg),
        np.full(len(among), place.longitude_deg),
        [s.latitude_deg for s in among],
        [s.longitude_deg for s in among],
    )[0]
    order = np.argsort(length_m, kind="stable")
    return [among[n] for n in order if length_m[n] >= 1e3 * least_km]


def station(
    world: World,
    label: str,
    site: Site,
    antenna: str,
    radio: str,
    mode: str,
    *,
    role: str = "",
    **changes: Any,
) -> Station:
    """A station with the usual values of its kind of site; ``changes`` override them."""
    hill = site.code.startswith("H") or site.code in _HIGH
    chosen = world.modes[radio, mode]
    return Station(
        **{
            "role": role or label.lower(),
            "label": label,
            "site": site,
            "antenna_type": world.antennas[antenna],
            "antenna_height_agl_m": 30.0 if hill else 18.0,
            "polarisation": "V",
            "feeder_loss_db": 1.8 if hill else 1.2,
            "duplexer_loss_db": 1.2,
            "duplexer_isolation_db": 85.0,
            "radio_type": chosen.radio_type,
            "mode": chosen,
            "tx_power_dbm": 30.0,
            **changes,
        }
    )  # fmt: skip


def own_link(world: World, code: str, plan: str, name: str, **changes: Any) -> Link:
    """One of our links, on the air for some years; ``changes`` override."""
    return Link(
        **{
            "code": code,
            "name": name,
            "kind": PTP,
            "holder": world.holders[OWN],
            "status": Link.Status.ON_AIR,
            "channel_plan": world.plans[plan],
            "starts_on": world.day(-700 - 13 * (sum(map(ord, code)) % 97)),
            "responsible": world.people["planner"],
            **changes,
        }
    )


def pair(
    world: World, code: str, plan: str, label: str, a: Site, b: Site, *, purpose: str = "", **changes: Any
) -> Drafted:
    """One of our narrowband point-to-point links: A sends the go frequency, B the return one."""
    antenna = _YAGI[plan[:3]]
    radio = "Ulmet 1" if plan.startswith("V16") else "Ulmet 4"
    link = own_link(
        world, code, plan, f"{a.name} – {b.name}" + (f", {purpose}" if purpose else ""), **changes
    )
    return Drafted(
        link, [station(world, end, site, antenna, radio, label) for end, site in (("A", a), ("B", b))]
    )


def _fixed(world: World, code: str, plan: str, label: str, a: Site, b: Site, purpose: str) -> Drafted:
    needs = {"telecontrol": (9.6, 200.0), "protection": (9.6, 40.0)}[purpose]
    return pair(
        world, code, plan, label, a, b, purpose=purpose, required_bit_rate_kbps=needs[0], required_round_trip_ms=needs[1]
    )  # fmt: skip


def _second_band(number: int) -> tuple[str, str]:
    if number % 12 == 5:
        return "U45-50", "50 kHz 16-QAM"
    if number % 15 == 10:
        return "U45-200", "200 kHz QPSK"
    return NARROW_45[number % 4]


def _planned(world: World, number: int, plan: str, label: str, a: Site, b: Site) -> Drafted:
    """What is not on the air yet: planned, filed, or granted and waiting for the crew."""
    status = (Link.Status.PLANNED, Link.Status.FILED, Link.Status.GRANTED)[number // 9 % 3]
    granted = status == Link.Status.GRANTED
    drafted = pair(
        world, f"U41-{200 + number}", plan, label, a, b, purpose="second route", status=status,
        starts_on=world.day(120 + 10 * number), reserved_until=None if granted else world.day(60 + number),
    )  # fmt: skip
    drafted.licensed = granted
    return drafted


def _microwave(world: World, number: int, one: Site, other: Site) -> Drafted:
    a, b = (one, other) if number % 2 == 0 else (other, one)
    link = own_link(
        world,
        f"M7-{number + 1:03d}",
        "M7-14",
        f"{a.name} – {b.name}, backbone",
        required_bit_rate_kbps=8000.0,
    )
    dish = "Dish 1.8 m, 7 GHz" if number % 2 else "Dish 1.2 m, 7 GHz"
    mode = "14 MHz 64-QAM" if number % 3 else "7 MHz 16-QAM"
    ends = [
        station(
            world, label, site, dish, "Tavo 7", mode,
            antenna_height_agl_m=38.0, tx_power_dbm=23.0, polarisation="H" if number % 2 else "V",
        )
        for label, site in (("A", a), ("B", b))
    ]  # fmt: skip
    return Drafted(link, ends)


def _polling(
    world: World,
    code: str,
    plan: str,
    label: str,
    hub: str,
    places: list[Site],
    *,
    azimuth_deg: float | None = None,
) -> Drafted:
    """A hub that polls remotes, which share one frequency pair."""
    band = plan[:3]
    radio, height = ("Ulmet 1", 34.0) if band == "V16" else ("Ulmet 4", 42.0)
    antenna = "Collinear 400–470" if azimuth_deg is None else "Panel 120°, 400–470"
    if band == "V16":
        # A dipole beside a mast has a direction: it looks across the valley.
        antenna, azimuth_deg = "Dipole 160, side-mounted", 180.0 if hub == "H05" else 0.0
    site = world.sites[hub]
    link = own_link(world, code, plan, f"{site.name}, metering of {len(places)} places", kind=PTMP)
    stations = [
        station(
            world, "hub", site, antenna, radio, label,
            role="hub", antenna_height_agl_m=height, azimuth_deg=azimuth_deg, tilt_deg=-1.0, tx_power_dbm=37.0,
        ),
        *(
            station(world, f"R{n:02d}", place, _YAGI[band], radio, label, role="remote", antenna_height_agl_m=9.0)
            for n, place in enumerate(places, start=1)
        ),
    ]  # fmt: skip
    return Drafted(link, stations)


def _others(world: World, network: Network) -> None:
    """Other parties' links, each from a place on the floor to the hills where that party has a mast."""
    high = [world.sites[code] for code in _HIGH]
    plans = (
        ("U41-12", "12.5 kHz 4-FSK"),
        ("U45-12", "12.5 kHz 4-FSK"),
        ("V16-12", "12.5 kHz 4-FSK"),
        ("U41-25", "25 kHz 4-FSK"),
        ("U45-25", "25 kHz 4-FSK"),
    )
    number = 0
    for code, holder in _HOLDERS.items():
        for mast, (plan, label) in zip(nearest(world.sites[code], high), plans, strict=False):
            number += 1
            network.add(_other(world, f"O-{number:03d}", holder, plan, label, world.sites[code], mast))


def _other(world: World, code: str, holder: str, plan: str, label: str, a: Site, b: Site) -> Drafted:
    link = Link(
        code=code,
        name=f"{a.name} – {b.name}",
        kind=PTP,
        holder=world.holders[holder],
        status=Link.Status.ON_AIR,
        channel_plan=world.plans[plan],
        starts_on=world.day(-900 - 7 * OTHERS.index(holder)),
        assumptions=ASSUMED,
    )
    ends = [
        station(world, end, site, _YAGI[plan[:3]], "Other party's radio", label, duplexer_isolation_db=None)
        for end, site in (("A", a), ("B", b))
    ]
    return Drafted(link, ends)
