"""Whether a station that transmits and receives at once is isolated from itself: needed against found."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from spectrum.conflicts.budget import Noise
from spectrum.conflicts.criteria import Limits
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import GIVEN, LIMIT, MARGIN, SUM, TERM, Row
from spectrum.conflicts.kinds import DECIDE, MUST_FIX, NOTE
from spectrum.conflicts.network import Network, StationRecord
from spectrum.radio.isolation import antenna_isolation, required_separation

from .coupling import isolation_of_itself_db, spacing_isolation_db
from .records import Equipment
from .surroundings import ISOLATION_RULES, SAFE, Surroundings

REGISTER = "the register"


def duplex_drafts(around: Surroundings) -> Iterator[Draft]:
    """A finding for each of our stations here whose isolation is short or cannot be judged."""
    network = around.network
    for number in around.place.here:
        if not network.own[number] or network.tx_hz[number] == network.rx_hz[number]:
            continue
        if network.tx_hz[number] > 0 and network.rx_hz[number] > 0:
            draft = _draft(around, int(number))
            if draft is not None:
                yield draft


def _draft(around: Surroundings, number: int) -> Draft | None:
    station, equipment = around.station(number), around.equipment(number)
    needs = isolation_needs(around.network, around.noise, around.limits, number, equipment)
    missing = list(_missing(station, equipment))
    found = isolation_of_itself_db(around.network, number, equipment)
    if not needs or np.isnan(found):
        return _cannot_judge(around, station, max(needs, default=None, key=lambda need: need[0]), missing)
    needed, what, rows = max(needs, key=lambda need: need[0])
    margin = found - needed
    estimated = bool(equipment.spacing_m or equipment.spacing_vertical_m)
    spread = around.criteria.isolation_spread_db if estimated else 0.0
    if margin > max(around.criteria.decide_within_db, spread):
        return _cannot_judge(around, station, None, missing) if missing else None
    evidence = [
        *(
            Row(f"Isolation needed against {name}", value, "dB", "arithmetic below", GIVEN)
            for value, name, _ in needs
        ),
        *_found_rows(around, number, equipment),
        *rows,
        Row(f"Isolation needed against {what}", needed, "dB", "sum", SUM),
        Row("Isolation found", found, "dB", "duplexer and antenna spacing in series", LIMIT),
        Row("Margin", margin, "dB", "found less needed", MARGIN),
    ]
    said = f"{-margin:.1f} dB less than" if margin < 0 else f"only {margin:.1f} dB more than"
    return Draft(
        kind="duplex_isolation",
        severity=MUST_FIX if margin < -spread else DECIDE,
        headline=f"{station.name} has {found:.1f} dB of isolation from itself, {said} the {needed:.1f} dB needed "
        f"against {what}",
        cure=_cure(around, number, equipment, needed) if margin < 0 else "",
        margin=margin,
        margin_unit="dB",
        parties=_parties(station),
        evidence=evidence,
        not_judged=[*missing, *(_notes(around, number, equipment) if estimated else ())],
    )


def isolation_needs(
    network: Network, noise: Noise, limits: Limits, number: int, equipment: Equipment
) -> list[tuple[float, str, list[Row]]]:
    """The isolation in dB that a station needs from itself, against what, and the arithmetic; what is known only."""
    return [
        (float(sum(row.value for row in rows if isinstance(row.value, float))), what, rows)
        for what, rows in (
            ("transmitter noise", _for_noise(network, noise, limits, number, equipment)),
            ("blocking", _for_blocking(network, number, equipment)),
        )
        if rows
    ]


def _for_noise(
    network: Network, noise: Noise, limits: Limits, number: int, equipment: Equipment
) -> list[Row]:
    if equipment.transmitter_noise_dbc_per_hz is None:
        return []
    limit = float(limits.i_over_n_db[number])
    width_khz = float(noise.bandwidth_khz[number])
    return [
        Row("Transmitter output power", float(network.tx_power_dbm[number]), "dBm", REGISTER, TERM),
        Row("Transmitter noise density", float(equipment.transmitter_noise_dbc_per_hz), "dBc/Hz", "the radio type", TERM),
        Row("Receiver's bandwidth", float(10.0 * np.log10(width_khz * 1e3)), "dB Hz", f"10 log {width_khz:g} kHz", TERM),
        Row("Less: noise at the receiver", -float(noise.total_dbm[number]), "dBm", "kTB, noise figure, ITU-R P.372", TERM),
        Row("Less: permitted I/N", -limit, "dB", limits.band[number].source, TERM),
    ]  # fmt: skip


def _for_blocking(network: Network, number: int, equipment: Equipment) -> list[Row]:
    if equipment.blocking_level_dbm is None:
        return []
    return [
        Row("Transmitter output power", float(network.tx_power_dbm[number]), "dBm", REGISTER, TERM),
        Row("Less: blocking level", -float(equipment.blocking_level_dbm), "dBm", "the radio type", TERM),
    ]


def _found_rows(around: Surroundings, number: int, equipment: Equipment) -> Iterator[Row]:
    if equipment.duplexer_isolation_db is not None:
        yield Row("Isolation of the duplexer", float(equipment.duplexer_isolation_db), "dB", REGISTER, GIVEN)
    for name, value in (("horizontal", equipment.spacing_m), ("vertical", equipment.spacing_vertical_m)):
        if value:
            yield Row(f"Antenna spacing, {name}", float(value), "m", REGISTER, GIVEN)
    if equipment.spacing_m or equipment.spacing_vertical_m:
        yield Row(
            "Isolation of the antennas, estimate",
            spacing_isolation_db(around.network, number, equipment),
            "dB",
            ISOLATION_RULES,
            GIVEN,
        )


def _notes(around: Surroundings, number: int, equipment: Equipment) -> tuple[str, ...]:
    network = around.network
    gain = float(network.gain_dbi[number])
    isolation = antenna_isolation(
        float(network.tx_hz[number] / 1e6),
        equipment.spacing_m or 0.0,
        equipment.spacing_vertical_m or 0.0,
        gain,
        gain,
    )
    outside = () if bool(isolation.within_range) else ("The spacing lies outside the formula's range.",)
    return (*outside, *isolation.notes)


def _missing(station: StationRecord, equipment: Equipment) -> Iterator[str]:
    if not equipment.isolation_entered:
        yield (
            f"{station.name} has neither a duplexer isolation nor a spacing of separate antennas: "
            "what isolates its receiver from its transmitter is not known."
        )
    for figure, name, what in (
        (equipment.transmitter_noise_dbc_per_hz, "transmitter noise", "noise in its own receiver"),
        (equipment.blocking_level_dbm, "blocking level", "blocking"),
    ):
        if figure is None:
            yield f"The radio type of {station.name} has no {name}: {what} was not judged."


def _cannot_judge(
    around: Surroundings,
    station: StationRecord,
    need: tuple[float, str, list[Row]] | None,
    missing: list[str],
) -> Draft:
    evidence: list[Row] = []
    headline = f"{station.name} transmits and receives at once; its isolation cannot be judged in full"
    if need is not None:
        needed, what, rows = need
        evidence = [*rows, Row(f"Isolation needed against {what}", needed, "dB", "sum", SUM)]
        headline = (
            f"{station.name} needs {needed:.1f} dB of isolation from itself against {what}; "
            "what it has is not known"
        )
    return Draft(
        kind="duplex_isolation",
        severity=NOTE,
        headline=headline,
        cure="Enter what was measured or stands on the data sheets of duplexer and radio.",
        parties=_parties(station),
        evidence=evidence,
        not_judged=missing,
    )


def _cure(around: Surroundings, number: int, equipment: Equipment, needed: float) -> str:
    network = around.network
    filters = needed - spacing_isolation_db(network, number, equipment)
    gain = float(network.gain_dbi[number])
    apart = required_separation(float(network.tx_hz[number] / 1e6), needed, gain, gain)
    ways = [f"a duplexer or filters with {filters:.1f} dB"]
    if bool(apart.vertical_within_range):
        ways.append(f"separate antennas {float(apart.vertical_m):.1f} m one above the other (estimate)")
    ways.append("less power")
    return f"Any one of: {'; '.join(ways)}. {SAFE}"


def _parties(station: StationRecord) -> Parties:
    return Parties(link_id=station.link.id, station_label=station.label, site_id=station.site_id)
