"""Sites for the tests of the checks at a site: invented values, only their relations matter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from sites.band_exceptions import BandException
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.evidence import adds_up, rows_as_json
from spectrum.conflicts.network import LinkRecord, ModeRecord, Network, StationRecord
from spectrum.conflicts.site_checks import AtSites, Equipment, site_findings
from tests.spectrum.conflicts.made import TODAY, WHIP, link, mode, station

CRITERIA = Criteria()
#: A station that has everything entered, with a duplexer that leaves nothing to be found about itself.
WHOLE = Equipment(
    duplexer_isolation_db=90.0,
    blocking_level_dbm=-20.0,
    transmitter_noise_dbc_per_hz=-150.0,
    third_order_intercept_dbm=0.0,
)
#: 12.5 kHz with an emission and a pass band of just that width: 4.8 kHz on either side of the centre are sent.
NARROW: ModeRecord = replace(mode(12_500), occupied_bandwidth_hz=9_600)


def at_one_site(number: int, tx_mhz: float | None, rx_mhz: float | None, **changes: object) -> StationRecord:
    """End A of a link of its own, at one site with all the others made here."""
    of: LinkRecord = link(number, **(changes.pop("link", {})))  # type: ignore[arg-type]
    values: dict[str, object] = {
        "site_id": 1,
        "site_code": "S1",
        "antenna": WHIP,
        "mode": NARROW,
        "tx_frequency_hz": None if tx_mhz is None else round(tx_mhz * 1e6),
        "rx_frequency_hz": None if rx_mhz is None else round(rx_mhz * 1e6),
        "tx_power_dbm": None if tx_mhz is None else 37.0,
        **changes,
    }
    return station(of, str(values.pop("label", "A")), **values)


def judged(
    stations: Iterable[StationRecord],
    equipment: dict[int, Equipment] | Equipment = WHOLE,
    criteria: Criteria = CRITERIA,
    exceptions: dict[int, tuple[BandException, ...]] | None = None,
    sites: frozenset[int] | None = None,
) -> list[Draft]:
    """All findings at the sites of some stations; every margin adds up."""
    rows = list(stations)
    of = (
        {row.id: equipment for row in rows} if isinstance(equipment, Equipment) else equipment
    )  # by station number
    drafts = site_findings(AtSites(Network(TODAY, rows), of, exceptions or {}, sites), criteria)
    assert len({draft.identity for draft in drafts}) == len(drafts)
    for draft in drafts:
        assert draft.parties.site_id is not None
        assert len(draft.cure) <= 300, draft.cure
        assert len(draft.headline) <= 300, draft.headline
        if draft.margin is not None:
            assert adds_up(rows_as_json(draft.evidence), draft.margin), draft.headline
    return drafts


def of_kind(drafts: list[Draft], kind: str) -> list[Draft]:
    return [draft for draft in drafts if draft.kind == kind]


def value(draft: Draft, name: str) -> float:
    return next(float(row.value) for row in draft.evidence if row.name == name)


def random_site(seed: int, transmitters: int, *, own: float = 1.0, span: int = 60) -> list[StationRecord]:
    """Stations on a 12.5 kHz raster near 410 and 420 MHz, at one site, some with the halves exchanged."""
    rng = np.random.default_rng(seed)
    channels = rng.choice(span, size=transmitters, replace=False)
    stations = []
    for number, channel in enumerate(channels.tolist(), start=1):
        go = 410.0 + 0.0125 * channel
        sent, heard = (go, go + 10.0) if number > 2 and rng.random() < 0.8 else (go + 10.0, go)
        stations.append(
            at_one_site(
                number, round(sent, 4), round(heard, 4),
                antenna_height_agl_m=float(rng.integers(10, 60)),
                tx_power_dbm=float(rng.integers(20, 44)),
                link={"own": bool(rng.random() < own)},
            )
        )  # fmt: skip
    return stations
