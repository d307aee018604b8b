"""P.452-18 over ten thousand profiles: profiles per second on one core, against one at a time, and where the time goes."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np

from spectrum.radio.propagation._diffraction import diffraction_from_summary
from spectrum.radio.propagation._summary import summarise
from spectrum.radio.propagation.p452 import Climate, PathProfiles, basic_transmission_loss, smooth_earth_loss
from spectrum.radio.propagation.p452._assembly import loss_from_summary
from spectrum.radio.propagation.p452._conditions import checked_conditions
from spectrum.radio.propagation.p452._mechanisms import (
    STRONG_LAYER_RADIUS_KM,
    anomalous_time,
    ducting,
    gas_db_per_km,
    line_of_sight,
    path_geometry,
    troposcatter,
    vapour_density,
)
from spectrum.radio.propagation.profiles import INLAND
from spectrum.radio.propagation.smooth_earth import effective_radius_km

PROFILES, POINTS = 10_000, 200
ONE_AT_A_TIME = 400
SMOOTH_PATHS = 100_000
REPEATS = 5


def _seconds(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Least processor time of several runs: the figure is per core, and other people's load does not count."""
    least = np.inf
    for _ in range(repeats):
        begun = time.process_time()
        work()
        least = min(least, time.process_time() - begun)
    return float(least)


def _terrain(seed: int = 452) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any]]:
    """Random-walk terrain 5 to 120 km long; ground cover and zones; the terms of each path."""
    rng = np.random.default_rng(seed)
    walk = 300.0 + np.cumsum(rng.normal(0.0, 6.0, (PROFILES, POINTS)), axis=1)
    bare = {
        "distance_km": rng.uniform(5.0, 120.0, (PROFILES, 1)) * np.linspace(0.0, 1.0, POINTS),
        "terrain_m": walk - np.minimum(walk.min(axis=1, keepdims=True), 0.0),
    }
    zone = np.repeat(rng.choice([1, 2, 3], (PROFILES, POINTS // 20)), 20, axis=1)
    zone[: PROFILES // 2] = INLAND
    cover = {"clutter_m": np.where(rng.random((PROFILES, POINTS)) < 0.3, 10.0, 0.0), "zone": zone}
    terms = {
        "frequency_ghz": rng.choice([0.15, 0.41, 0.45, 0.9, 7.5], PROFILES),
        "time_percent": rng.choice([0.01, 1.0, 20.0, 50.0], PROFILES),
        "height_tx_agl_m": rng.uniform(10.0, 60.0, PROFILES),
        "height_rx_agl_m": rng.uniform(5.0, 40.0, PROFILES),
        "latitude_deg": rng.uniform(40.0, 55.0, PROFILES),
    }
    return bare, cover, terms


def _stages(bare: dict[str, Any], terms: dict[str, Any]) -> dict[str, float]:
    """Share of the whole, %, that each stage takes when run alone."""
    usual = {
        "gain_tx_dbi": 0.0,
        "gain_rx_dbi": 0.0,
        "vertical": True,
        "coast_tx_km": 500.0,
        "coast_rx_km": 500.0,
    }
    climate = Climate()
    paths = PathProfiles(**bare)
    c = checked_conditions(PROFILES, **terms, **usual, climate=climate)
    ae = effective_radius_km(c.lapse)
    strong = np.full_like(ae, STRONG_LAYER_RADIUS_KM)
    s = summarise(paths, c.height_tx_agl_m, c.height_rx_agl_m, [ae, strong])
    g, a = path_geometry(s, ae), anomalous_time(s, c.latitude_deg)
    radio = (c.frequency_ghz, c.wavelength_m, c.vertical, s.over_sea_fraction)
    gas = gas_db_per_km(c, vapour_density(s.over_sea_fraction))
    seconds = {
        "checking the profiles": _seconds(lambda: PathProfiles(**bare)),
        "maxima and sums along the profiles": _seconds(
            lambda: summarise(paths, c.height_tx_agl_m, c.height_rx_agl_m, [ae, strong])
        ),
        "diffraction, twice": _seconds(
            lambda: [diffraction_from_summary(s, i, r, *radio) for i, r in enumerate((ae, strong))]
        ),
        "gas": _seconds(lambda: gas_db_per_km(c, vapour_density(s.over_sea_fraction))),
        "line of sight and troposcatter": _seconds(
            lambda: (line_of_sight(s, g, c, a.beta0, gas), troposcatter(s, g, c, gas))
        ),
        "ducting": _seconds(lambda: ducting(s, g, c, a, gas)),
    }
    after_summary = _seconds(lambda: loss_from_summary(s, c, climate))
    seconds["geometry, β0, combination, result"] = after_summary - sum(list(seconds.values())[2:])
    total = sum(seconds.values())
    return {name: 100.0 * value / total for name, value in seconds.items()}


def run() -> dict[str, Any]:
    """Measure; figures by name."""
    bare, cover, terms = _terrain()
    batch = _seconds(lambda: basic_transmission_loss(PathProfiles(**bare), **terms))
    covered = _seconds(lambda: basic_transmission_loss(PathProfiles(**bare, **cover), **terms))
    many = {**terms, "frequency_ghz": np.linspace(0.13, 8.0, PROFILES)}
    frequencies = _seconds(lambda: basic_transmission_loss(PathProfiles(**bare), **many))
    together = basic_transmission_loss(PathProfiles(**bare), **terms).lb_db[:ONE_AT_A_TIME]
    alone = np.empty(ONE_AT_A_TIME)

    def one_at_a_time() -> None:
        for i in range(ONE_AT_A_TIME):
            row = slice(i, i + 1)
            path = PathProfiles(**{name: value[row] for name, value in bare.items()})
            alone[i] = basic_transmission_loss(path, **{name: v[row] for name, v in terms.items()}).lb_db[0]

    loop = _seconds(one_at_a_time, repeats=2) / ONE_AT_A_TIME
    distance = np.linspace(1.0, 300.0, SMOOTH_PATHS)
    smooth = _seconds(
        lambda: smooth_earth_loss(410.0, distance, 30.0, 20.0, 1.0, latitude_deg=47.0), repeats=3
    )
    return {
        "profiles": PROFILES,
        "points in each": POINTS,
        "aim, profiles per second and core": 10_000,
        "batched, profiles per second and core": PROFILES / batch,
        "the same with ground cover and mixed zones": PROFILES / covered,
        "the same with a frequency of its own for each path": PROFILES / frequencies,
        "one profile at a time, profiles per second": 1.0 / loop,
        "batched over one at a time, times": loop * PROFILES / batch,
        "largest difference between the two, dB": float(np.abs(together - alone).max()),
        "without terrain (smooth earth), paths per second and core": SMOOTH_PATHS / smooth,
        "share of the time, %": _stages(bare, terms),
    }


if __name__ == "__main__":
    from deploy.bench.__main__ import lines

    print("\n".join(lines(run())))
