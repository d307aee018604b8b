"""A seeded register of n links: clustered sites, re-used channels, both halves of every band.

All invented. What it takes after: towns with most sites near them, some sites far busier than others; 60 %
of the links in 400-470 MHz on rasters of 12.5 and 25 kHz, 10 % in 156-174 MHz, the rest in microwave
bands; a site transmits in one half of a band only; a channel is given out again far away, as a planner
would, until the country is full: a small register is nearly clear, one of a million is not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sites.geodesy import inverse
from spectrum.conflicts.columns import Columns
from spectrum.conflicts.network import FAR_FUTURE, FAR_PAST, AntennaRecord, ModeRecord
from spectrum.conflicts.nominal import nominal_emission, nominal_selectivity
from spectrum.conflicts.snapshot import LinkTable, Register, SiteTable, Tables, Words
from spectrum.radio.antennas.pointing import elevation_deg

SOUTH, NORTH, WEST, EAST = 40.0, 49.0, 4.0, 23.0  # about 1000 km by 1500 km
LINKS_PER_SITE = 2.0
SITES_PER_TOWN = 40
TOWN_KM = 18.0
CHANNEL_STRIDE = 5
# The busiest sites have so many times the links of the average: some 60 transmitters, as on a full mast.
BUSIEST = 12.0


@dataclass(frozen=True)
class Band:
    """Channels of one width: share of the links, lowest frequency of the low half, span and duplex spacing."""

    share: float
    low_mhz: float
    span_mhz: float
    duplex_mhz: float
    width_khz: float
    antenna: int
    power_dbm: float


BANDS = (
    Band(0.30, 400.0, 20.0, 35.0, 12.5, 0, 33.0),
    Band(0.05, 450.0, 5.0, 12.5, 12.5, 1, 37.0),
    Band(0.25, 420.0, 12.5, 35.0, 25.0, 0, 33.0),
    Band(0.10, 156.0, 8.0, 9.0, 12.5, 0, 37.0),
    Band(0.10, 1350.0, 25.0, 142.0, 250.0, 2, 30.0),
    Band(0.08, 7125.0, 140.0, 161.0, 7000.0, 3, 23.0),
    Band(0.06, 12_751.0, 210.0, 266.0, 14_000.0, 3, 20.0),
    Band(0.06, 17_700.0, 500.0, 1010.0, 28_000.0, 3, 17.0),
)

ANTENNAS = [
    AntennaRecord(
        "Invented Yagi", "measured", 12.0, 140.0, 480.0, 18.0,
        points=((0, 0), (15, -2), (30, -7), (45, -14), (60, -18), (90, -20), (180, -22)),
    ),
    AntennaRecord("Invented whip", "f1336_omni", 6.0, 140.0, 480.0, 10.0),
    AntennaRecord("Invented grid dish 1.2 m", "f699", 22.0, 1300.0, 1600.0, 25.0, diameter_m=1.2),
    AntennaRecord("Invented dish 1.2 m", "f699", 36.0, 7000.0, 20_000.0, 30.0, diameter_m=1.2),
]  # fmt: skip


def made_register(links: int, seed: int = 1, own_share: float = 1.0) -> Register:
    """A register of so many links, every one live. ``own_share`` of them are ours."""
    rng = np.random.default_rng(seed)
    town_of, latitude, longitude, ground = _sites(rng, max(int(links / LINKS_PER_SITE), 4))
    site_a, site_b = _ends(rng, links, town_of)
    band = rng.choice(len(BANDS), links, p=[b.share for b in BANDS])
    low_hz, high_hz = _channels(rng, band, town_of[site_a], latitude[site_a], longitude[site_a])
    site = np.column_stack((site_a, site_b)).ravel()
    other = np.column_stack((site_b, site_a)).ravel()
    band2 = np.repeat(band, 2)
    end_b = np.tile([False, True], links)
    height = rng.uniform(10.0, 50.0, 2 * links).round(1)
    length_m, azimuth, _ = inverse(latitude[site], longitude[site], latitude[other], longitude[other])
    across = height.reshape(-1, 2)[:, ::-1].ravel()
    tilt = elevation_deg(np.maximum(length_m, 5.0) / 1e3, ground[site] + height, ground[other] + across)
    antenna = np.array([b.antenna for b in BANDS])[band2]
    omni = antenna == 1
    modes, mode_of_band = _modes()
    columns = Columns(
        station_id=np.arange(1, 2 * links + 1),
        link_id=np.repeat(np.arange(1, links + 1), 2),
        role=end_b.astype(np.int64),
        own=np.repeat(rng.random(links) < own_share, 2),
        latitude_deg=latitude[site],
        longitude_deg=longitude[site],
        ground_known=np.ones(2 * links, dtype=bool),
        ground_height_m=ground[site],
        antenna_height_agl_m=height,
        azimuth_deg=np.where(omni, np.nan, azimuth),
        tilt_deg=np.where(omni, 0.0, tilt),
        vertical=np.repeat(rng.random(links) < 0.7, 2),
        line_losses_db=np.full(2 * links, 3.0),
        antenna=antenna,
        mode=mode_of_band[band2],
        gain_dbi=np.array([a.gain_dbi for a in ANTENNAS])[antenna],
        xpd_db=np.array([a.cross_polar_discrimination_db for a in ANTENNAS])[antenna],
        tx_power_dbm=np.array([b.power_dbm for b in BANDS])[band2],
        tx_hz=np.where(end_b, np.repeat(high_hz, 2), np.repeat(low_hz, 2)),
        rx_hz=np.where(end_b, np.repeat(low_hz, 2), np.repeat(high_hz, 2)),
        starts=np.full(2 * links, FAR_PAST.toordinal()),
        ends=np.full(2 * links, FAR_FUTURE.toordinal()),
        required_ci_db=np.array([m.required_ci_db for m in modes])[mode_of_band[band2]],
    )
    none = np.zeros(2 * links, dtype=np.int64)
    words = Words(
        end_b.astype(np.int64),
        site,
        np.repeat(np.arange(links), 2),
        np.zeros(2 * links, dtype=bool),
        none,
        none,
    )
    nothing = np.zeros(links, dtype=np.int64)
    own = columns.own[::2]
    table = LinkTable(
        id=np.arange(1, links + 1),
        code=np.char.mod("G-%07d", np.arange(1, links + 1)),
        kind=nothing,
        holder=np.where(own, 0, 1),
        status=nothing,
        reserved_until=nothing,
        plan=nothing - 1,
    )
    sites = SiteTable(np.arange(1, len(latitude) + 1), np.char.mod("S%07d", np.arange(1, len(latitude) + 1)))
    tables = Tables(ANTENNAS, modes, [], [""], ["rural"], ["A", "B"], ["Own", "Other"], ["on_air"])
    return Register(0, columns, words, table, sites, tables)


def _sites(rng: np.random.Generator, count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Town of each site, latitude, longitude, ground height; the sites of a town stand together."""
    towns = max(count // SITES_PER_TOWN, 1)
    town_latitude, town_longitude = rng.uniform(SOUTH, NORTH, towns), rng.uniform(WEST, EAST, towns)
    weight = rng.pareto(1.5, towns) + 0.5
    town = np.sort(rng.choice(towns, count, p=weight / weight.sum()))
    distance_km = rng.exponential(TOWN_KM, count)
    bearing = rng.uniform(0.0, 2.0 * np.pi, count)
    latitude = town_latitude[town] + distance_km * np.cos(bearing) / 111.2
    longitude = town_longitude[town] + distance_km * np.sin(bearing) / (111.2 * np.cos(np.radians(latitude)))
    rolling = np.sin(latitude * 40.0) * np.cos(longitude * 31.0) + np.sin(latitude * 7.0 + longitude * 5.0)
    ground = 400.0 + 150.0 * rolling + rng.uniform(0.0, 80.0, count)
    return town, latitude.round(6), longitude.round(6), ground.round(1)


def _ends(rng: np.random.Generator, links: int, town: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Two sites of one town for each link: one of an even and one of an odd number, the low and the high half."""
    count = len(town)
    busy = rng.pareto(2.0, count) + 0.2
    busy = np.minimum(busy, BUSIEST * busy.mean())
    even = np.arange(0, count - 1, 2)
    a = rng.choice(even, links, p=busy[even] / busy[even].sum())
    first, last = np.searchsorted(town, town[a], "left"), np.searchsorted(town, town[a], "right")
    b = first + (rng.random(links) * (last - first)).astype(np.int64)
    b += np.where(b % 2 == 0, 1, 0)
    return a, np.minimum(b, (count - 1) - (count % 2))


def _channels(
    rng: np.random.Generator, band: np.ndarray, town: np.ndarray, latitude: np.ndarray, longitude: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Low and high frequency of each link in Hz.

    The links of a town in a band take every fifth channel of a block, whose masks do not meet; a block goes
    to the town that is furthest from those that have it.
    """
    low = np.zeros(len(band), dtype=np.int64)
    high = np.zeros(len(band), dtype=np.int64)
    for number, b in enumerate(BANDS):
        members = np.flatnonzero(band == number)
        if not len(members):
            continue
        step_hz = round(b.width_khz * 1e3)
        channels = int(b.span_mhz * 1e3 / b.width_khz)
        members = members[np.lexsort((rng.random(len(members)), town[members]))]
        _, first, count = np.unique(town[members], return_index=True, return_counts=True)
        turn = np.arange(len(members)) - np.repeat(first, count)
        block = int(np.quantile(count, 0.9)) * CHANNEL_STRIDE
        blocks = _far_apart(latitude[members[first]], longitude[members[first]], max(channels // block, 1))
        channel = (np.repeat(blocks, count) * block + turn * CHANNEL_STRIDE) % channels
        low[members] = round(b.low_mhz * 1e6) + step_hz // 2 + channel * step_hz
        high[members] = low[members] + round(b.duplex_mhz * 1e6)
    return low, high


def _far_apart(latitude: np.ndarray, longitude: np.ndarray, blocks: int) -> np.ndarray:
    """A block for each town in turn: the one whose nearest holder so far is furthest away."""
    x = longitude * np.cos(np.radians(latitude))
    chosen = np.zeros(len(latitude), dtype=np.int64)
    for i in range(1, len(latitude)):
        squared = (latitude[:i] - latitude[i]) ** 2 + (x[:i] - x[i]) ** 2
        nearest = np.full(blocks, np.inf)
        np.minimum.at(nearest, chosen[:i], squared)
        chosen[i] = int(np.argmax(nearest))
    return chosen


def _modes() -> tuple[list[ModeRecord], np.ndarray]:
    """One mode for each width, and the mode of each band."""
    widths = sorted({b.width_khz for b in BANDS})
    modes = [
        ModeRecord(
            name=f"Invented radio {width:g} kHz",
            channel_width_hz=round(width * 1e3),
            occupied_bandwidth_hz=round(width * 800),
            emission_designator="16K0F1D",
            modulation="4-FSK",
            noise_figure_db=7.0,
            tuning_min_mhz=100.0,
            tuning_max_mhz=20_000.0,
            power_min_dbm=0.0,
            power_max_dbm=43.0,
            emission=nominal_emission(width),
            selectivity=nominal_selectivity(width),
            required_ci_db=18.0,
            nominal_masks=("emission mask", "receiver selectivity"),
        )
        for width in widths
    ]
    return modes, np.array([widths.index(b.width_khz) for b in BANDS])
