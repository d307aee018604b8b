"""Co-channel and adjacent-channel interference, single entry: pairs, budgets, findings."""

from __future__ import annotations

import numpy as np

from spectrum.radio.antennas.cross_polar import cross_polar_loss_db
from spectrum.radio.rejection import rejection_table

from .antenna_gain import PATTERN_NAMES, is_omnidirectional, pattern_gap
from .budget import Noise, PairBudget, budget_of, noise_of
from .criteria import Criteria
from .drafts import Draft, Parties
from .evidence import GIVEN, LIMIT, MARGIN, SUM, TERM, Row
from .kinds import DECIDE, MUST_FIX
from .neighbours import Tick, pairs_that_could_matter
from .network import Network, StationRecord

RASTER_STEPS_SEARCHED = 400


def interference_findings(
    network: Network, criteria: Criteria, *, link_id: int | None = None, tick: Tick | None = None
) -> list[Draft]:
    """Every pair over the limit, and every pair so close below it that a person must decide."""
    if not len(network):
        return []
    noise = noise_of(network)
    tx, rx, fdr = pairs_that_could_matter(network, noise.total_dbm, criteria, link_id=link_id, tick=tick)
    if not len(tx):
        return []
    budget = budget_of(network, tx, rx, fdr, noise, criteria)
    reported = np.flatnonzero(budget.margin_db <= criteria.decide_within_db)
    return [_draft(network, budget, noise, int(i), criteria) for i in reported]


def _draft(network: Network, budget: PairBudget, noise: Noise, i: int, criteria: Criteria) -> Draft:
    sender = network.stations[budget.tx[i]]
    victim = network.stations[budget.rx[i]]
    margin = float(budget.margin_db[i])
    offset_hz = int(network.tx_hz[budget.tx[i]] - network.rx_hz[budget.rx[i]])
    overlap = abs(offset_hz) * 2 < sender.mode.channel_width_hz + victim.mode.channel_width_hz
    over = f"{-margin:.1f} dB over" if margin < 0 else f"only {margin:.1f} dB below"
    return Draft(
        kind="co_channel" if overlap else "adjacent_channel",
        severity=MUST_FIX if margin < 0 else DECIDE,
        headline=(
            f"{sender.name} ({_mhz(network.tx_hz[budget.tx[i]])}) arrives at {victim.name} "
            f"({_mhz(network.rx_hz[budget.rx[i]])}), {over} I/N {criteria.i_over_n_limit_db:g} dB"
        ),
        cure=_cure(network, budget, i, margin) if margin < 0 else "",
        margin=margin,
        margin_unit="dB",
        parties=Parties(
            link_id=sender.link.id,
            station_label=sender.label,
            other_link_id=victim.link.id,
            other_station_label=victim.label,
        ),
        evidence=_evidence(network, budget, noise, i, criteria),
        not_judged=_not_judged(sender, victim, float(network.tx_hz[budget.tx[i]] / 1e6)),
    )


def _evidence(network: Network, b: PairBudget, noise: Noise, i: int, criteria: Criteria) -> list[Row]:
    sender, victim = network.stations[b.tx[i]], network.stations[b.rx[i]]
    t, r = int(b.tx[i]), int(b.rx[i])
    register = "the register"
    manmade = noise.manmade_figure_db[r]
    return [
        Row(
            "Path length", float(b.slant_km[i]), "km", "geodesic on WGS 84, height difference included", GIVEN
        ),
        Row("Transmit frequency", float(network.tx_hz[t] / 1e6), "MHz", register, GIVEN),
        Row("Receive frequency", float(network.rx_hz[r] / 1e6), "MHz", register, GIVEN),
        Row(
            f"{sender.name}: off axis toward the victim",
            _angle(b.tx_off_axis_deg[i]),
            "degrees",
            "geometry",
            GIVEN,
        ),
        Row(
            f"{victim.name}: off axis toward the interferer",
            _angle(b.rx_off_axis_deg[i]),
            "degrees",
            "geometry",
            GIVEN,
        ),
        Row("Transmitter output power", float(network.tx_power_dbm[t]), "dBm", register, TERM),
        Row("Feeder and duplexer, transmit side", -float(network.line_losses_db[t]), "dB", register, TERM),
        Row("Antenna gain toward the victim", float(b.tx_gain_dbi[i]), "dBi", _pattern_source(sender), TERM),
        Row("Free space", -float(b.free_space_db[i]), "dB", "ITU-R P.525", TERM),
        Row("Diffraction over the smooth earth", -float(b.diffraction_db[i]), "dB", "ITU-R P.526 §3", TERM),
        Row(
            "Antenna gain toward the interferer",
            float(b.rx_gain_dbi[i]),
            "dBi",
            _pattern_source(victim),
            TERM,
        ),
        Row("Feeder and duplexer, receive side", -float(network.line_losses_db[r]), "dB", register, TERM),
        Row(
            "Cross-polarisation, main beams only",
            -float(b.cross_polar_db[i]),
            "dB",
            "the antennas' cross-polar discrimination",
            TERM,
        ),
        Row(
            "Frequency-dependent rejection", -float(b.fdr_db[i]), "dB", "ITU-R SM.337-6, from the masks", TERM
        ),
        Row("Interference at the receiver", float(b.interference_dbm[i]), "dBm", "sum", SUM),
        Row(
            "Less: thermal noise kTB",
            -float(noise.thermal_dbm[r]),
            "dB",
            f"k · 290 K · {noise.bandwidth_khz[r]:g} kHz",
            TERM,
        ),
        Row(
            "Less: noise figure" + ("" if np.isnan(manmade) else " with man-made noise"),
            -float(noise.figure_db[r]),
            "dB",
            "the radio type"
            if np.isnan(manmade)
            else f"the radio type and ITU-R P.372 ({victim.environment})",
            TERM,
        ),
        Row("I/N", float(b.i_over_n_db[i]), "dB", "sum", SUM),
        Row("Permitted I/N", criteria.i_over_n_limit_db, "dB", "criterion of this check", LIMIT),
        Row("Margin", float(b.margin_db[i]), "dB", "permitted less found", MARGIN),
    ]


def _angle(value: float) -> float | str:
    return "no boresight" if np.isnan(value) else float(value)


def _pattern_source(station: StationRecord) -> str:
    return f"{station.antenna.name}, {PATTERN_NAMES[station.antenna.pattern]}"


def _not_judged(sender: StationRecord, victim: StationRecord, frequency_mhz: float) -> list[str]:
    sentences = []
    if sender.ground_height_m is None or victim.ground_height_m is None:
        sentences.append("A ground height is missing: both sites are taken to stand at the same height.")
    for station in (sender, victim):
        for mask in station.mode.nominal_masks:
            sentences.append(f"{station.mode.name} has no {mask} for this width: a nominal one stands in.")
        if station.link.assumptions:
            sentences.append(f"{station.link.code}: {station.link.assumptions}")
        if reason := pattern_gap(station.antenna, frequency_mhz):
            sentences.append(f"{station.antenna.name}: {reason} Its full gain is taken in every direction.")
        if station.azimuth_deg is None and not is_omnidirectional(station.antenna):
            sentences.append(f"{station.name} has no azimuth: the full gain is taken in every direction.")
    sentences.append("No terrain was used: hills between the sites would weaken the interference further.")
    return list(dict.fromkeys(sentences))


def _cure(network: Network, b: PairBudget, i: int, margin: float) -> str:
    """What would bring the pair to its limit, each computed: less power, or channels away."""
    sender, victim = network.stations[b.tx[i]], network.stations[b.rx[i]]
    ways = [f"{-margin:.1f} dB less power at {sender.name}"]
    offset_hz = int(network.tx_hz[b.tx[i]] - network.rx_hz[b.rx[i]])
    step_hz = victim.mode.channel_width_hz
    steps = np.arange(1, RASTER_STEPS_SEARCHED + 1)
    # Away from the victim: up if the sender is above it already, else down.
    away = offset_hz + steps * step_hz * (1 if offset_hz >= 0 else -1)
    fdr = rejection_table(sender.mode.emission, victim.mode.selectivity, away).fdr_db
    enough = np.flatnonzero(fdr >= b.fdr_db[i] - margin)
    if enough.size:
        ways.append(f"{steps[enough[0]]} × {step_hz / 1e3:g} kHz further away")
    if b.cross_polar_db[i] == 0 and sender.polarisation == victim.polarisation:
        discrimination = float(
            cross_polar_loss_db(
                "H",
                "V",
                sender.antenna.cross_polar_discrimination_db,
                victim.antenna.cross_polar_discrimination_db,
            )
        )
        in_beams = (
            sender.antenna.gain_dbi - b.tx_gain_dbi[i] <= 3.0
            and victim.antenna.gain_dbi - b.rx_gain_dbi[i] <= 3.0
        )
        if discrimination >= -margin and in_beams:
            ways.append(f"the other polarisation ({discrimination:.1f} dB)")
    return "Any one of: " + "; ".join(ways) + "."


def _mhz(frequency_hz: int) -> str:
    return f"{frequency_hz / 1e6:.5f} MHz"
