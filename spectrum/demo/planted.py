"""Puts the troubles into the regular network. What they are to give stands in :mod:`.troubles`."""

from __future__ import annotations

import datetime as dt
from typing import Any

from licences.models import Licence, LicensedChannel
from sites.models import Site
from spectrum.models import CommissioningRecord, Link, Station

from .licences import Papers, licence, power_dbm
from .links import ASSUMED, own_link, pair, station
from .parties import BROADCAST, KLSO, OWN, RESCUE, TMRB, WATER
from .world import Drafted, Network, World

#: The planned link of the tour: it disturbs a railway link, exceeds its licence, and that licence runs out.
STORY = "U41-301"
_STATUS = Link.Status


def plant_links(world: World, network: Network) -> None:
    """Links that are in each other's way, and stations that cannot be judged; before channels are given."""
    site, mode_12 = world.sites, "12.5 kHz 4-FSK"
    story = pair(
        world, STORY, "U41-12", mode_12, site["V36"], site["H12"], purpose="relief route", status=_STATUS.PLANNED,
        starts_on=world.day(21), reserved_until=world.day(75),
    )  # fmt: skip
    story.beside = "O-021"
    network.add(story)

    neighbour = pair(
        world, "U41-302", "U41-12", mode_12, site["V12"], network.links["U41-012"].station("B").site,
        purpose="second telecontrol", status=_STATUS.FILED, starts_on=world.day(150), reserved_until=world.day(80),
    )  # fmt: skip
    neighbour.beside, neighbour.away, neighbour.licensed = "U41-012", 1, False
    network.add(neighbour)

    for number, (code, (power, azimuth)) in enumerate(BEACONS.items(), start=1):
        network.add(
            _one_way(
                world, f"O-{300 + number}", WATER, code, "U41-12", beside="U41-024", tx_power_dbm=power,
                antenna_type=world.antennas["Yagi 410, 8 elements"], azimuth_deg=azimuth,
            )
        )  # fmt: skip
    weak = pair(
        world, "U45-303", "U45-12", mode_12, site["V52"], site["V38"], purpose="stopgap without a relay"
    )
    for end in weak.stations:
        end.tx_power_dbm = 20.0
    network.add(weak)
    network.add(
        _one_way(
            world,
            "O-311",
            BROADCAST,
            "X40",
            "U45-12",
            beside="U45-303",
            tx_power_dbm=44.0,
            antenna_height_agl_m=150.0,
        )
    )

    _cannot_be_judged(world, network)
    siren = _one_way(
        world, "O-312", RESCUE, "V01", "V16-12", beside="", tx_power_dbm=33.0,
        antenna_type=world.antennas["Collinear 160"],
    )  # fmt: skip
    siren.licensed = False
    network.add(siren)
    network.links["U41-007"].station("A").duplexer_isolation_db = 45.0
    network.links["U41-005"].station("B").tx_power_dbm = 41.0


#: Power in dBm and azimuth of the flood beacons: each alone stays below the limit at U41-024/A, together they do not.
BEACONS = {"X31": (20.2, 70.0), "X32": (21.0, 75.0), "X33": (25.9, 287.0), "X34": (31.1, 284.0)}


def _one_way(
    world: World, code: str, holder: str, at: str, plan: str, *, beside: str, **changes: Any
) -> Drafted:
    """Another party's transmitter whose receivers are not known."""
    place = world.sites[at]
    link = Link(
        code=code,
        name=f"{place.name}, one way",
        holder=world.holders[holder],
        status=_STATUS.ON_AIR,
        channel_plan=world.plans[plan],
        starts_on=world.day(-800),
        assumptions=f"{ASSUMED} Its receivers are not known.",
    )
    values: dict[str, Any] = {
        "duplexer_isolation_db": None,
        "duplexer_loss_db": 0.0,
        "antenna_height_agl_m": 6.0,
        **changes,
    }
    sender = station(
        world, "B", place, "Collinear 400–470", "Other party's radio", "12.5 kHz 4-FSK", **values
    )  # fmt: skip
    return Drafted(link, [sender], beside=beside)


def _cannot_be_judged(world: World, network: Network) -> None:
    low = Drafted(
        own_link(world, "L07-001", "L07-12", "Eskemoor – Beckaslow, wake-up calls"),
        [
            station(world, label, world.sites[code], "Dipole 75, side-mounted", "Ulmet 0", "12.5 kHz 4-FSK")
            for label, code in (("A", "V52"), ("B", "V49"))
        ],
    )
    network.add(low)
    network.links["U45-102"].station("hub").azimuth_deg = None
    hub = network.links["V16-002"].station("hub")
    hub.antenna_type, hub.azimuth_deg = world.antennas["Collinear 160"], None


def plant_papers(world: World, network: Network, papers: Papers) -> None:
    """Stations that leave their licences, and licences whose dates press; after licences were made."""
    links = network.links
    _story(world, papers, links[STORY])
    _off_licence(links)
    _places(links)
    _dates(world, links)
    _paper_only(world, papers, links)

    # An end that listens on an unused channel and not to its partner, and a link that stands off the raster.
    links["U41-204"].station("B").rx_frequency_hz = world.plans["U41-25"].pair_hz(130)[0]
    for end in links["U41-213"].stations:
        end.tx_frequency_hz, end.rx_frequency_hz = (
            _hz(end.tx_frequency_hz) + 1_000,
            _hz(end.rx_frequency_hz) + 1_000,
        )

    # A siren's transmitter whose third harmonic is a channel of the telecontrol beside it, on a 2.5 kHz raster.
    third_hz = _hz(links["U45-001"].station("A").rx_frequency_hz) / 3
    siren = links["O-312"]
    siren.station("B").tx_frequency_hz, siren.link.channel_plan = round(third_hz / 2_500) * 2_500, None

    unlicensed = links["U45-014"].station("B")
    papers.channels.remove(_channel(unlicensed))
    unlicensed.licensed_channel = None
    for left in papers.channels:
        if left.paired_with is not None and left.paired_with not in papers.channels:
            left.paired_with = None


def _hz(frequency_hz: int | None) -> int:
    if frequency_hz is None:
        raise ValueError("A trouble of the demo is planted on a station without that frequency.")
    return frequency_hz


def _channel(of: Station) -> LicensedChannel:
    if of.licensed_channel is None:
        raise ValueError(
            f"A trouble of the demo is planted on station {of.label}, which has no licensed channel."
        )
    return of.licensed_channel


def _story(world: World, papers: Papers, story: Drafted) -> None:
    sender = story.station("A")
    channel = _channel(sender)
    channel.power_kind = LicensedChannel.PowerKind.ERP
    channel.power_limit_dbm = round(power_dbm(sender, channel.power_kind) - 3.0, 2)
    held = channel.licence
    held.granted_on, held.in_force_from = world.day(-1790), world.day(-1784)
    held.bring_into_use_by, held.brought_into_use_on = world.day(-1400), world.day(-1500)
    # Forty-two days left, and this authority takes renewals until thirty days before the end.
    held.expires_on = world.day(42)


def _off_licence(links: dict[str, Drafted]) -> None:
    """One limit each; the change of width takes the occupied bandwidth and the emission with it."""
    frequency = _channel(links["U41-014"].station("A"))
    frequency.frequency_hz -= 12_500
    width = _channel(links["U41-017"].station("A"))
    width.channel_width_hz, width.occupied_bandwidth_hz = 12_500, 12_500
    width.emission_designators = ["8K64F1D"]
    _channel(links["U41-018"].station("A")).modulations = ["4-FSK"]
    sender = links["U45-007"].station("A")
    power = _channel(sender)
    power.power_limit_dbm = round(power_dbm(sender, power.power_kind) - 1.5, 2)


def _places(links: dict[str, Drafted]) -> None:
    moved = _channel(links["U45-008"].station("A"))
    moved.latitude_deg = _site(moved).latitude_deg + 0.004
    moved.longitude_deg = _site(moved).longitude_deg
    # The area of the polling system was drawn before its last remote was planned.
    remotes = [s for s in links["U45-101"].stations if s.role == Station.Role.REMOTE]
    last = remotes[-1]
    area = _channel(last).area or {}
    area["coordinates"][0] = [
        [min(x, round(last.site.longitude_deg - 0.02, 3)), y] for x, y in area["coordinates"][0]
    ]
    height = _channel(links["U45-009"].station("B"))
    height.antenna_height_max_m = (height.antenna_height_max_m or 0.0) - 7.0
    azimuth = _channel(links["U45-010"].station("A"))
    azimuth.azimuth_deg = ((azimuth.azimuth_deg or 0.0) + 17.0) % 360.0
    _channel(links["U45-012"].station("A")).polarisation = "H"


def _site(channel: LicensedChannel) -> Site:
    if channel.site is None:
        raise ValueError(f"{channel.label} is licensed for an area, not at a site.")
    return channel.site


def _licence_of(links: dict[str, Drafted], code: str) -> Licence:
    return _channel(links[code].stations[0]).licence


def _dates(world: World, links: dict[str, Drafted]) -> None:
    _licence_of(links, "U41-040").expires_on = world.day(-6)
    _licence_of(links, "U41-042").expires_on = world.day(100)
    later = _licence_of(links, "U41-222")
    later.granted_on, later.in_force_from = world.day(-5), world.day(40)
    links["U41-222"].link.starts_on = world.day(10)
    waiting = _licence_of(links, "U45-040")
    waiting.brought_into_use_on, waiting.bring_into_use_by = None, world.day(45)
    _licence_of(links, "U41-044").expires_on = world.day(700)
    links["U41-044"].link.ends_on = world.day(900)
    links["U41-231"].link.reserved_until = world.day(9)


def _paper_only(world: World, papers: Papers, links: dict[str, Drafted]) -> None:
    """A channel that nobody uses any more, and one that was applied for twice."""
    used = _channel(links["U41-046"].station("A"))
    idle = papers.add(
        licence(
            world, TMRB, IDLE_LICENCE, OWN, granted_on=world.day(-820), in_force_from=world.day(-800),
            brought_into_use_on=world.day(-780), yearly_fee=310, fee_currency="EUR",
            notes="The link it was for was taken down; nobody gave the licence back.",
        )
    )  # fmt: skip
    papers.channels.append(copied(used, idle, "former feeder", frequency_hz=419_000_000))
    twice = papers.add(
        licence(
            world, KLSO, TWICE_LICENCE, OWN, granted_on=world.day(-110), in_force_from=world.day(-100),
            yearly_fee=180, fee_currency="EUR", notes="Applied for by two departments.",
        )
    )  # fmt: skip
    papers.channels.append(copied(used, twice, "second application"))


IDLE_LICENCE = "TM-0931"
TWICE_LICENCE = "K1932"


def copied(of: LicensedChannel, under: Licence, label: str, **changes: object) -> LicensedChannel:
    """A channel like another one under a licence, not saved."""
    values = {
        field.name: getattr(of, field.name)
        for field in of._meta.concrete_fields
        if field.name not in ("id", "version", "created_at", "changed_at", "licence", "label", "paired_with")
    }
    return LicensedChannel(**{**values, "licence": under, "label": label, **changes})


def found_on_site(network: Network, today: dt.date) -> list[CommissioningRecord]:
    """What a field engineer recorded: one transmitter was left below the power that is planned."""
    station = network.links["U41-019"].station("A")
    return [
        CommissioningRecord(
            station=station,
            found_on=today - dt.timedelta(days=20),
            found_by="Falk",
            tx_frequency_hz=station.tx_frequency_hz,
            tx_power_dbm=(station.tx_power_dbm or 0.0) - 2.5,
            notes="Power as found; the attenuator of the bench test was still set.",
        )
    ]
