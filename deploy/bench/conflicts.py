"""The conflict search in memory at growing sizes: one link, the whole network, against all pairs; with the growth.

SIZE (default 100000) is the largest register; 1000000 takes some ten minutes and 3 GB. OWN_SHARE (default 1) is the
part of the links that are ours: pairs of others are not judged, so 1 is the most work there can be. What would
take longer than its share of the time is measured on a part of the receivers, drawn by lot, and scaled; it says so.
"""

from __future__ import annotations

import datetime as dt
import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from deploy.bench.registers import made_register
from sites.geodesy import ecef
from sites.terrain import TerrainStore
from sites.terrain.synthetic import write_synthetic_terrain
from spectrum.conflicts import compiled
from spectrum.conflicts.budget import budget_of
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.interference import Prepared
from spectrum.conflicts.neighbours import LinkSearch
from spectrum.conflicts.network import Network
from spectrum.conflicts.snapshot import Register, load, save

SIZES = (1_000, 10_000, 100_000, 1_000_000)
DAY = dt.date(2026, 6, 1)
LINKS_TRIED = 200
# Seconds that one measurement of a whole network may take before it is scaled from a part.
SHARE_S = 40.0
TERRAIN_LINKS = 1_000
TERRAIN_RECEIVERS = 40
TERRAIN_BOX = (14.0, 46.5, 15.0, 47.5)


def run() -> dict[str, Any]:
    """Measure; figures by name."""
    largest = int(os.environ.get("SIZE", "100000"))
    sizes = [size for size in SIZES if size <= largest]
    tables = {size: measured(size) for size in sizes}
    report: dict[str, Any] = {"part of the links that are ours": own_share()}
    report |= {f"{size:,} links": table for size, table in tables.items()}
    if len(sizes) > 1:
        rows = [
            name for name in tables[sizes[0]] if name.endswith((" s", " ms")) and name in tables[sizes[-1]]
        ]
        report["growth: time ~ links to the power of"] = {
            name: _exponent(sizes, [tables[size][name] for size in sizes]) for name in rows
        }
    report[f"over terrain, {TERRAIN_LINKS:,} links"] = over_terrain()
    return report


def own_share() -> float:
    """Part of the links that are ours."""
    return float(os.environ.get("OWN_SHARE", "1"))


def measured(links: int) -> dict[str, Any]:
    """All rows of one size."""
    register, making = _timed(lambda: made_register(links, own_share=own_share()))
    figures: dict[str, Any] = {"making the register, s": making}
    register = _through_files(register, figures)
    network, figures["columns ready for a run, s"] = _timed(lambda: register.network(DAY))
    ready, figures["noise and criteria of every station, s"] = _timed(lambda: Prepared(network, Criteria()))
    rng = np.random.default_rng(7)
    if compiled.AVAILABLE:
        _whole(ready, ready.receivers[:1], by_compiled=True)  # loaded, and compiled the first time
    whole_s, part = _within_share(
        lambda receivers: _whole(ready, receivers, by_compiled=compiled.AVAILABLE), ready.receivers, rng
    )
    figures["whole network, level ground: search, one core, s"] = whole_s
    figures["  measured on this part of the receivers"] = part
    figures |= _found(ready, part, rng)
    figures |= one_link(ready, rng)
    return figures


def one_link(ready: Prepared, rng: np.random.Generator) -> dict[str, Any]:
    """The check of one link against arrays in memory, and by computing with all stations."""
    network = ready.network
    chosen = rng.choice(np.unique(network.link_id), min(LINKS_TRIED, len(network) // 2), replace=False)
    filter_ = ready.filter()
    near = LinkSearch(network, filter_)
    searching, computing, pairs = [], [], []
    wanted = np.full(len(network), np.nan)
    near.meeting(int(chosen[0]))
    for link in chosen.tolist():
        found, seconds = _timed(lambda link=link: filter_.that_matter(near.meeting(link), wanted))  # type: ignore[misc]
        searching.append(seconds)
        pairs.append(len(found))
        _, seconds = _timed(lambda found=found: ready.budget(found, wanted))  # type: ignore[misc]
        computing.append(seconds)
    position = ecef(network.latitude_deg, network.longitude_deg)
    by_all = [
        _timed(lambda link=link: all_pairs(network, position, link))[1]  # type: ignore[misc]
        for link in chosen[:20].tolist()
    ]
    return {
        "one link, search in arrays, median ms": _ms(searching, 50),
        "one link, search in arrays, p95 ms": _ms(searching, 95),
        "one link, with every budget, median ms": _ms(np.add(searching, computing), 50),
        "one link, with every budget, p95 ms": _ms(np.add(searching, computing), 95),
        "one link, pairs that could matter, median": float(np.median(pairs)),
        "one link, distance to all stations and offset (all pairs, numpy), median ms": _ms(by_all, 50),
    }


def all_pairs(network: Network, position: np.ndarray, link: int) -> int:
    """Distance and frequency offset of a link's stations to all others: what a search without order begins with."""
    count = 0
    for station in np.flatnonzero(network.link_id == link).tolist():
        km = np.linalg.norm(position - position[station], axis=-1) / 1e3
        for own, other in ((network.tx_hz[station], network.rx_hz), (network.rx_hz[station], network.tx_hz)):
            near = (km < 300.0) & (np.abs(other - own) < 100_000) & (network.link_id != link)
            count += int(near.sum())
    return count


def over_terrain() -> dict[str, Any]:
    """A dense small network over invented tiles, a part of its receivers."""
    west, south, east, north = TERRAIN_BOX
    made = made_register(TERRAIN_LINKS)
    c = made.columns
    latitude = (
        south
        + 0.05
        + (c.latitude_deg - c.latitude_deg.min()) / np.ptp(c.latitude_deg) * 0.9 * (north - south)
    )
    longitude = (
        west
        + 0.05
        + (c.longitude_deg - c.longitude_deg.min()) / np.ptp(c.longitude_deg) * 0.9 * (east - west)
    )
    columns = c.part(np.arange(len(c)))
    columns.latitude_deg[:], columns.longitude_deg[:] = latitude, longitude
    network = Register(0, columns, made.words, made.links, made.sites, made.tables).network(DAY)
    with tempfile.TemporaryDirectory() as folder:
        write_synthetic_terrain(folder, TERRAIN_BOX, seed=4)
        terrain = TerrainStore(folder)
        ready = Prepared(network, Criteria(), terrain)
        sample = np.sort(np.random.default_rng(5).choice(ready.receivers, TERRAIN_RECEIVERS, replace=False))
        wanted = ready.wanted_dbm(sample)
        (tx, rx, fdr), searching = _timed(lambda: _joined(ready, sample, wanted))
        budget, computing = _timed(
            lambda: budget_of(
                network, tx, rx, fdr, ready.noise, ready.limits, ready.criteria, wanted_dbm=wanted,
                terrain=terrain,
            )
        )  # fmt: skip
    share = TERRAIN_RECEIVERS / len(ready.receivers)
    return {
        "receivers measured": TERRAIN_RECEIVERS,
        "pairs over a profile": int((budget.loss.missing_terrain == 0.0).sum()),
        "profiles per second, with everything else of the budget": len(tx) / computing,
        "whole network, scaled from these, s": (searching + computing) / share,
    }


def _through_files(register: Register, figures: dict[str, Any]) -> Register:
    """The register as it comes back from its mapped files."""
    with tempfile.TemporaryDirectory() as folder:
        where, figures["writing its files, s"] = _timed(lambda: save(register, Path(folder) / "r"))
        kept, figures["opening its files, s"] = _timed(lambda: load(where))
        if kept is None:
            raise RuntimeError("The files just written could not be read.")
        return kept.part(np.arange(len(kept)))


def _whole(ready: Prepared, receivers: np.ndarray, *, by_compiled: bool) -> int:
    """Wanted levels and search; how many pairs are left to the definition."""
    ready.compiled_from_receivers = 0 if by_compiled else len(ready.network) + 1
    wanted = ready.wanted_dbm(receivers)
    return sum(len(block.tx) for block in ready.pairs(receivers, wanted, None))


def _found(ready: Prepared, part: float, rng: np.random.Generator) -> dict[str, Any]:
    """What the pairs that are left cost by the definition, on a part of the receivers, and how many conflict."""
    few = max(min(int(len(ready.receivers) * part), 2_000), 1)
    sample = np.sort(rng.choice(ready.receivers, min(few, len(ready.receivers)), replace=False))
    wanted = ready.wanted_dbm(sample)
    tx, rx, fdr = _joined(ready, sample, wanted)
    budget, seconds = _timed(
        lambda: budget_of(
            ready.network, tx, rx, fdr, ready.noise, ready.limits, ready.criteria, wanted_dbm=wanted
        )
    )
    scale = len(ready.receivers) / len(sample)
    over = (budget.margin_db <= ready.criteria.decide_within_db) | (
        budget.ci_margin_db <= ready.criteria.decide_within_db
    )
    by_definition, _ = _timed(lambda: _whole(ready, sample, by_compiled=False))
    begun = time.perf_counter()
    _whole(ready, sample, by_compiled=False)
    numpy_s = time.perf_counter() - begun
    return {
        "  the same search by numpy alone, scaled from 2,000 receivers, s": numpy_s * scale,
        "  pairs left to the definition per receiver": len(tx) / len(sample),
        "  pairs left by numpy alone per receiver": by_definition / len(sample),
        "  their budgets by the definition, scaled, s": seconds * scale,
        "  conflicts to be reported per receiver": float(over.sum()) / len(sample),
    }


def _joined(
    ready: Prepared, receivers: np.ndarray, wanted: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    ready.compiled_from_receivers = 0 if compiled.AVAILABLE else len(ready.network) + 1
    blocks = list(ready.pairs(receivers, wanted, None))
    return (
        np.concatenate([b.tx for b in blocks]),
        np.concatenate([b.rx for b in blocks]),
        np.concatenate([b.fdr_db for b in blocks]),
    )


def _within_share(
    work: Callable[[np.ndarray], object], receivers: np.ndarray, rng: np.random.Generator
) -> tuple[float, float]:
    """Seconds for all receivers, measured on as many as fit the share of the time; and that part."""
    few = np.sort(rng.permutation(receivers)[: max(len(receivers) // 100, 1_000)])
    _, seconds = _timed(lambda: work(few))
    part = min(SHARE_S / max(seconds * len(receivers) / len(few), 1e-9), 1.0)
    if part >= 0.5:
        _, seconds = _timed(lambda: work(receivers))
        return seconds, 1.0
    chosen = np.sort(rng.permutation(receivers)[: max(int(len(receivers) * part), len(few))])
    _, seconds = _timed(lambda: work(chosen))
    return seconds * len(receivers) / len(chosen), len(chosen) / len(receivers)


def _exponent(sizes: list[int], seconds: list[float]) -> float:
    return float(np.polyfit(np.log(sizes), np.log(np.maximum(seconds, 1e-7)), 1)[0])


def _ms(seconds: Any, percentile: float) -> float:
    return float(np.percentile(seconds, percentile) * 1e3)


def _timed(work: Callable[[], Any]) -> tuple[Any, float]:
    begun = time.perf_counter()
    result = work()
    return result, time.perf_counter() - begun
