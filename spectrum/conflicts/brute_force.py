"""Every transmitter against every receiver, with nothing left out: what the search is compared with.

Slow on purpose, and written apart from the search. Also the random networks that both are tried on: clustered
and far sites, poles, the date line, antennas at one place, equal frequencies and offsets, masks of one
side only, frequency windows that would go below zero, links that are never live together.
"""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

import numpy as np

from sites.geodesy import ecef
from spectrum.radio.masks import Mask
from spectrum.radio.rejection import NO_OVERLAP_FDR_DB

from .aggregate import Received
from .budget import budget_of, noise_of, wanted_levels
from .columns import IntArray
from .compiled import WORTH_IT_FROM_RECEIVERS
from .criteria import Criteria, limits_of
from .drafts import Draft
from .interference import Prepared, interference_findings
from .neighbours import fdr_db
from .network import (
    FAR_FUTURE,
    FAR_PAST,
    AntennaRecord,
    LinkRecord,
    ModeRecord,
    Network,
    StationRecord,
)
from .nominal import nominal_emission, nominal_selectivity

Found = dict[tuple[str, str, str], float]
PAIRS_AT_ONCE = 200_000
DAY = dt.date(2026, 6, 1)
_PLACES = [
    (47.0, 14.0), (47.0, 14.0), (0.0, 179.99), (0.0, -179.99), (89.9, 10.0), (89.9, -170.0), (-90.0, 0.0),
]  # fmt: skip
_ANTENNAS = [
    AntennaRecord(
        "Yagi", "measured", 12.0, 0.01, 480.0, 18.0,
        points=((0, 0), (20, -3), (40, -12), (60, -18), (90, -20), (180, -22)),
    ),
    AntennaRecord("Whip", "f1336_omni", 6.0, 0.01, 480.0, 10.0),
    AntennaRecord("Dish", "f699", 20.0, 0.01, 960.0, 25.0, diameter_m=3.0),
]  # fmt: skip


def every_pair(network: Network, receivers: IntArray | None = None) -> tuple[IntArray, IntArray]:
    """All pairs but those that are no conflict by definition: one link, no common day, none of ours."""
    senders = np.flatnonzero(network.tx_hz > 0)
    listeners = np.flatnonzero(network.rx_hz > 0) if receivers is None else receivers
    tx, rx = (grid.ravel() for grid in np.meshgrid(senders, listeners, indexing="ij"))
    counts = (network.link_id[tx] != network.link_id[rx]) & (network.own[tx] | network.own[rx])
    counts &= (network.starts[tx] <= network.ends[rx]) & (network.starts[rx] <= network.ends[tx])
    return tx[counts], rx[counts]


def brute_force(network: Network, criteria: Criteria, receivers: IntArray | None = None) -> tuple[Found, int]:
    """Margins of all that is to be reported, by kind and names, and how many pairs were computed."""
    tx, rx = every_pair(network, receivers)
    noise = noise_of(network)
    limits = limits_of(network.rx_hz / 1e6, network.authority, criteria)
    listeners = np.flatnonzero(network.rx_hz > 0) if receivers is None else receivers
    wanted = wanted_levels(network, limits, criteria, None, listeners)
    position = ecef(network.latitude_deg, network.longitude_deg)
    received, found = Received(network), Found()
    for start in range(0, len(tx), PAIRS_AT_ONCE):
        t, r = tx[start : start + PAIRS_AT_ONCE], rx[start : start + PAIRS_AT_ONCE]
        chord_km = np.linalg.norm(position[t] - position[r], axis=-1) / 1e3
        fdr = fdr_db(network, t, r)
        # Where the masks share no frequency no power arrives at all; the budget holds a finite stand-in.
        arrives = (chord_km <= criteria.policy_radius_km) & (fdr < NO_OVERLAP_FDR_DB)
        t, r, fdr = t[arrives], r[arrives], fdr[arrives]
        if not len(t):
            continue
        budget = budget_of(network, t, r, fdr, noise, limits, criteria, wanted_dbm=wanted)
        received.add(budget, limits, criteria)
        for kind, margin in (("I/N", budget.margin_db), ("C/I", budget.ci_margin_db)):
            for i in np.flatnonzero(margin <= criteria.decide_within_db).tolist():
                found[kind, network.stations[t[i]].name, network.stations[r[i]].name] = float(margin[i])
    _, at, _, total_dbm = received.summed()
    counts = np.bincount(at, minlength=len(network))
    margins = limits.aggregate_db - (total_dbm - noise.total_dbm)
    for victim in np.flatnonzero((counts > 1) & (margins <= criteria.decide_within_db)).tolist():
        found["sum", "", network.stations[victim].name] = float(margins[victim])
    return found, len(tx)


def searched(
    network: Network,
    criteria: Criteria,
    *,
    link_id: int | None = None,
    receivers: IntArray | None = None,
    compiled_from_receivers: int = WORTH_IT_FROM_RECEIVERS,
) -> Found:
    """The same by the search."""
    ready = Prepared(network, criteria, compiled_from_receivers=compiled_from_receivers)
    found = interference_findings(network, criteria, link_id=link_id, receivers=receivers, prepared=ready)
    codes = {number: network.stations[i].link.code for i, number in enumerate(network.link_id.tolist())}
    return dict(_named(draft, codes) for draft in found.drafts)


def _named(draft: Draft, codes: dict[int, str]) -> tuple[tuple[str, str, str], float]:
    parties = draft.parties
    one = f"{codes[parties.link_id or 0]}/{parties.station_label}"
    margin = float("nan") if draft.margin is None else draft.margin
    if draft.kind == "aggregate":
        return ("sum", "", one), margin
    other = f"{codes[parties.other_link_id or 0]}/{parties.other_station_label}"
    return ("C/I" if draft.kind == "carrier_to_interference" else "I/N", one, other), margin


def differences(one: Found, other: Found, *, within_db: float = 1e-9) -> list[str]:
    """What is in one and not in the other, or differs in margin, in sentences."""
    said = [f"{key} is only found by computing every pair" for key in one.keys() - other.keys()]
    said += [f"{key} is only found by the search" for key in other.keys() - one.keys()]
    said += [
        f"{key} has {one[key]} and {other[key]} dB"
        for key in one.keys() & other.keys()
        if not abs(one[key] - other[key]) <= within_db
    ]
    return sorted(said)


def random_network(seed: int, links: int, *, lowest_hz: int = 410_000_000) -> Network:
    """A network made to be difficult; ``lowest_hz`` of a few kHz lets windows reach below zero."""
    rng = np.random.default_rng(seed)
    stations = []
    for number in range(1, links + 1):
        record = LinkRecord(
            number, f"L-{number:03d}", "ptp", "Own", bool(rng.random() < 0.7), "on_air",
            DAY if rng.random() < 0.3 else FAR_PAST, DAY if rng.random() < 0.2 else FAR_FUTURE, None, None,
        )  # fmt: skip
        channel = int(rng.integers(0, 40)) * 12_500
        antenna = _ANTENNAS[rng.integers(len(_ANTENNAS))]
        mode = random_mode(int(rng.choice([12_500, 25_000, 200_000])), one_sided=bool(rng.random() < 0.15))
        for label in "AB":
            if rng.random() < 0.2:
                latitude, longitude = _PLACES[rng.integers(len(_PLACES))]
            else:
                latitude, longitude = 47.0 + rng.normal(0, 0.5), 14.0 + rng.normal(0, 0.5)
            low, high = lowest_hz + channel, lowest_hz + 50_000 + channel
            silent = rng.random() < 0.05
            stations.append(
                StationRecord(
                    id=2 * number + (label == "B"), link=record, label=label, role=label.lower(),
                    site_id=2 * number + (label == "B"), site_code=f"S{number}{label}",
                    latitude_deg=latitude, longitude_deg=longitude,
                    ground_height_m=None if rng.random() < 0.1 else float(rng.uniform(0, 1500)),
                    antenna_height_agl_m=float(rng.uniform(2, 60)),
                    azimuth_deg=float(rng.uniform(0, 360)) if antenna.pattern != "f1336_omni" else None,
                    azimuth_entered=False, tilt_deg=float(rng.uniform(-3, 3)),
                    polarisation="V" if rng.random() < 0.7 else "H", line_losses_db=2.0, environment="rural",
                    antenna=antenna, mode=mode, tx_power_dbm=float(rng.uniform(20, 43)),
                    tx_frequency_hz=None if silent else (low if label == "A" else high),
                    rx_frequency_hz=high if label == "A" else low,
                )
            )  # fmt: skip
    return Network(as_of=DAY, stations=stations)


@lru_cache
def random_mode(width_hz: int, *, one_sided: bool) -> ModeRecord:
    """A mode of a width; one-sided: emission and selectivity reach further up than down."""
    khz = width_hz / 1e3
    upward = ((-0.5 * khz, -40.0), (-0.4 * khz, 0.0), (0.4 * khz, 0.0), (khz, -50.0), (2.5 * khz, -70.0))
    return ModeRecord(
        name=f"Radio {width_hz}", channel_width_hz=width_hz, occupied_bandwidth_hz=int(width_hz * 0.8),
        emission_designator="16K0F1D", modulation="4-FSK", noise_figure_db=7.0, tuning_min_mhz=380.0,
        tuning_max_mhz=480.0, power_min_dbm=20.0, power_max_dbm=43.0,
        emission=Mask.from_points(upward) if one_sided else nominal_emission(khz),
        selectivity=Mask.from_points(upward) if one_sided else nominal_selectivity(khz),
        required_ci_db=18.0,
    )  # fmt: skip
