"""What was found at a station against what it is licensed for, planned as, and predicted to receive."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from sites.sentences import Sentence, sentence
from sites.terrain import TerrainStore
from sites.words import gettext_noop as _

from .budget import noise_of, wanted_levels
from .criteria import Criteria, limits_of
from .drafts import Draft, Parties
from .evidence import GIVEN, LIMIT, MARGIN, SUM, TERM, Row
from .kinds import DECIDE, MUST_FIX
from .licence_checks import compare_station
from .network import Network, StationRecord
from .site_checks.duplex import isolation_needs, needed_against
from .site_checks.records import NOTHING_ENTERED, Equipment

#: A power meter and a coupler in the field; common practice, no published source.
POWER_WITHIN_DB: Final = 1.0
#: A median over a path with terrain against one reading; common practice, no published source.
LEVEL_WITHIN_DB: Final = 6.0
#: Duplexer and its cabling against the entered figure; common practice, no published source.
ISOLATION_WITHIN_DB: Final = 3.0
FOUND, REGISTER = _("as found"), _("the register")
TOLERANCE: Final = _("tolerance; common practice, no published source")
#: Limits of a licence that a setting can break, by the name of the setting.
_LICENSED: Final = {"frequency": "tx", "channel_width": "width", "modulation": "modulation", "power": "power"}


@dataclass(frozen=True)
class _Setting:
    """The words for one setting: its rows of evidence as they stand and with the sign turned, and what is off."""

    found: str
    found_turned: str
    expected: str
    expected_turned: str
    above: str
    below: str


_SETTINGS: Final = {
    "tx": _Setting(
        _("Transmit frequency found"),
        _("Transmit frequency found, sign turned"),
        _("Transmit frequency expected"),
        _("Transmit frequency expected, sign turned"),
        _("the transmit frequency is {difference:.2f} {unit} above the plan"),
        _("the transmit frequency is {difference:.2f} {unit} below the plan"),
    ),
    "rx": _Setting(
        _("Receive frequency found"),
        _("Receive frequency found, sign turned"),
        _("Receive frequency expected"),
        _("Receive frequency expected, sign turned"),
        _("the receive frequency is {difference:.2f} {unit} above the plan"),
        _("the receive frequency is {difference:.2f} {unit} below the plan"),
    ),
    "width": _Setting(
        _("Channel width found"),
        _("Channel width found, sign turned"),
        _("Channel width expected"),
        _("Channel width expected, sign turned"),
        _("the channel width is {difference:.2f} {unit} above the plan"),
        _("the channel width is {difference:.2f} {unit} below the plan"),
    ),
    "power": _Setting(
        _("Output power found"),
        _("Output power found, sign turned"),
        _("Output power expected"),
        _("Output power expected, sign turned"),
        _("the output power is {difference:.1f} {unit} above the plan"),
        _("the output power is {difference:.1f} {unit} below the plan"),
    ),
    "level": _Setting(
        _("Received level found"),
        _("Received level found, sign turned"),
        _("Received level expected"),
        _("Received level expected, sign turned"),
        _("the received level is {difference:.1f} {unit} above the prediction"),
        _("the received level is {difference:.1f} {unit} below the prediction"),
    ),
    "isolation": _Setting(
        _("Isolation found"),
        _("Isolation found, sign turned"),
        _("Isolation expected"),
        _("Isolation expected, sign turned"),
        _("the isolation is {difference:.1f} {unit} above the plan"),
        _("the isolation is {difference:.1f} {unit} below the plan"),
    ),
}


@dataclass(frozen=True)
class AsFound:
    """The latest record of one station, with what it is held against that the network does not carry."""

    station_id: int
    found_on: dt.date
    found_by: str
    tx_frequency_hz: int | None = None
    rx_frequency_hz: int | None = None
    tx_power_dbm: float | None = None
    channel_width_hz: int | None = None
    modulation: str = ""
    received_level_dbm: float | None = None
    isolation_db: float | None = None
    round_trip_ms: float | None = None
    throughput_kbps: float | None = None
    required_round_trip_ms: float | None = None
    required_bit_rate_kbps: float | None = None
    equipment: Equipment = NOTHING_ENTERED


def as_built_findings(
    network: Network,
    criteria: Criteria,
    found: Mapping[int, AsFound],
    terrain: TerrainStore | None = None,
    *,
    link_id: int | None = None,
) -> list[Draft]:
    """Every way in which the latest records of our stations (by station) differ from licence, plan and prediction."""
    if not found:
        return []
    numbers = [
        n
        for n, station in enumerate(network.stations)
        if station.id in found and station.link.own and link_id in (None, station.link.id)
    ]
    if not numbers:
        return []
    limits = limits_of(network.rx_hz / 1e6, network.authority, criteria)
    measured = np.array([n for n in numbers if network.rx_hz[n] > 0], dtype=np.int64)
    wanted = wanted_levels(network, limits, criteria, terrain, measured)
    noise = noise_of(network)
    drafts: list[Draft] = []
    for n in numbers:
        station = network.stations[n]
        record = found[station.id]
        outside = dict(_against_licence(station, record))
        drafts += outside.values()
        drafts += _against_register(station, record, outside.keys())
        drafts += _level(station, record, float(wanted[n]))
        needs = isolation_needs(network, noise, limits, n, record.equipment)
        drafts += _isolation(station, record, max(needs, default=None, key=lambda need: need[0]))
        drafts += _service(station, record)
    return drafts


def _against_licence(station: StationRecord, record: AsFound) -> Iterator[tuple[str, Draft]]:
    """Each limit that is exceeded as found, by the name of the setting."""
    if station.channel is None or station.tx_frequency_hz is None:
        return
    mode = replace(
        station.mode,
        channel_width_hz=record.channel_width_hz or station.mode.channel_width_hz,
        modulation=record.modulation or station.mode.modulation,
    )
    as_found = replace(
        station,
        mode=mode,
        tx_frequency_hz=record.tx_frequency_hz or station.tx_frequency_hz,
        tx_power_dbm=station.tx_power_dbm if record.tx_power_dbm is None else record.tx_power_dbm,
    )
    looked_at = {
        "frequency": record.tx_frequency_hz,
        "channel_width": record.channel_width_hz,
        "modulation": record.modulation or None,
        "power": record.tx_power_dbm,
    }
    for result in compare_station(as_found, station.channel):
        if result.kind not in _LICENSED or looked_at[result.kind] is None or result.within is not False:
            continue
        scale, unit = (1e-3, "kHz") if result.margin_unit == "Hz" else (1.0, result.margin_unit)
        evidence = [
            Row(term.name, term.value * scale, unit if term.unit == "Hz" else term.unit, term.source, TERM)
            for term in result.terms
        ]
        margin = None if result.margin is None else result.margin * scale
        if margin is not None:
            evidence.append(Row(_("Margin"), margin, unit, _("sum of the above"), MARGIN))
        key = _LICENSED[result.kind]
        yield key, _draft(
            station, record, f"{key} licensed", MUST_FIX,
            sentence("{channel}: {verdict}", channel=station.channel.name, verdict=result.sentence),
            _("Bring the station back inside its licence, or switch it off."),
            margin, unit if margin is not None else "", evidence,
        )  # fmt: skip


def _against_register(station: StationRecord, record: AsFound, outside: Collection[str]) -> Iterable[Draft]:
    """Settings other than planned; those outside the licence have their finding already."""
    mode = station.mode
    for key, was, planned, scale, unit, within in (
        ("tx", record.tx_frequency_hz, station.tx_frequency_hz, 1e-3, "kHz", 0.0),
        ("rx", record.rx_frequency_hz, station.rx_frequency_hz, 1e-3, "kHz", 0.0),
        ("width", record.channel_width_hz, mode.channel_width_hz, 1e-3, "kHz", 0.0),
        ("power", record.tx_power_dbm, station.tx_power_dbm, 1.0, "dB", POWER_WITHIN_DB),
    ):
        if was is not None and planned is not None and key not in outside:
            yield from _apart(station, record, key, was * scale, planned * scale, unit, within, REGISTER)
    if (
        record.modulation
        and "modulation" not in outside
        and record.modulation.casefold() != mode.modulation.casefold()
    ):
        yield _draft(
            station, record, "modulation", DECIDE,
            sentence(
                _("the modulation is {found}, planned is {planned}"), found=record.modulation, planned=mode.modulation
            ),
            _("Set the planned modulation, or enter the mode that is in use."), None, "", [],
        )  # fmt: skip


def _level(station: StationRecord, record: AsFound, wanted_dbm: float) -> Iterable[Draft]:
    if record.received_level_dbm is None or np.isnan(wanted_dbm):
        return
    yield from _apart(
        station, record, "level", record.received_level_dbm, wanted_dbm, "dB", LEVEL_WITHIN_DB,
        _("predicted, median"),
    )  # fmt: skip


def _apart(
    station: StationRecord, record: AsFound, key: str, was: float, expected: float, unit: str, within: float,
    source: str,
) -> Iterable[Draft]:  # fmt: skip
    """Found and expected further from each other than the tolerance."""
    difference = was - expected
    margin = within - abs(difference)
    if margin >= -1e-9:
        return
    above, words = difference > 0, _SETTINGS[key]
    sign = 1.0 if above else -1.0
    shown = "dBm" if key in ("power", "level") else unit
    found, wanted = (words.found, words.expected_turned) if above else (words.found_turned, words.expected)
    evidence = [
        Row(found, sign * was, shown, FOUND, TERM),
        Row(wanted, -sign * expected, shown, source, TERM),
        Row(_("Difference"), abs(difference), unit, _("sum of the above"), SUM),
        Row(_("Permitted difference"), within, unit, TOLERANCE if within else _("both must agree"), LIMIT),
        Row(_("Margin"), margin, unit, _("permitted less found"), MARGIN),
    ]
    said = sentence(words.above if above else words.below, difference=abs(difference), unit=unit)
    cure = (
        _("Look at pointing, polarisation, connectors and power; then at the path.")
        if key == "level"
        else _("Set the station as planned, or enter what is to stay.")
    )
    yield _draft(station, record, key, DECIDE, said, cure, margin, unit, evidence)


def _isolation(
    station: StationRecord, record: AsFound, need: tuple[float, str, list[Row]] | None
) -> Iterable[Draft]:
    if record.isolation_db is None:
        return
    if need is not None and record.isolation_db < need[0]:
        needed, what, rows = need
        margin = record.isolation_db - needed
        evidence = [
            *rows,
            Row(needed_against(what), needed, "dB", _("sum"), SUM),
            Row(_("Isolation measured"), record.isolation_db, "dB", FOUND, LIMIT),
            Row(_("Margin"), margin, "dB", _("measured less needed"), MARGIN),
        ]
        yield _draft(
            station, record, "isolation need", MUST_FIX,
            sentence(
                _("the isolation measured, {measured:.1f} dB, is {short:.1f} dB less than needed against {what}"),
                measured=record.isolation_db, short=-margin, what=sentence(what),
            ),
            _("Tune or change the duplexer, with transmitters off and loaded."), margin, "dB", evidence,
        )  # fmt: skip
    entered = record.equipment.duplexer_isolation_db
    if entered is not None and record.isolation_db < entered - ISOLATION_WITHIN_DB:
        yield from _apart(
            station, record, "isolation", record.isolation_db, entered, "dB", ISOLATION_WITHIN_DB, REGISTER
        )  # fmt: skip


def _service(station: StationRecord, record: AsFound) -> Iterable[Draft]:
    """Round trip and throughput against what the service needs."""
    if record.round_trip_ms is not None and record.required_round_trip_ms is not None:
        margin = record.required_round_trip_ms - record.round_trip_ms
        if margin < 0:
            yield _draft(
                station, record, "round trip", DECIDE,
                sentence(_("the round trip takes {excess:.1f} ms longer than the service allows"), excess=-margin),
                _("Look at mode, interleaving and framing."), margin, "ms",
                [
                    Row(_("Round trip measured"), record.round_trip_ms, "ms", FOUND, TERM),
                    Row(_("Round trip the service needs"), record.required_round_trip_ms, "ms", REGISTER, LIMIT),
                    Row(_("Margin"), margin, "ms", _("needed less measured"), MARGIN),
                ],
            )  # fmt: skip
    if record.throughput_kbps is not None and record.required_bit_rate_kbps is not None:
        margin = record.throughput_kbps - record.required_bit_rate_kbps
        if margin < 0:
            yield _draft(
                station, record, "throughput", DECIDE,
                sentence(_("the throughput is {short:.1f} kbit/s less than the service needs"), short=-margin),
                _("Look at mode, errors and levels."), margin, "kbit/s",
                [
                    Row(_("Throughput measured"), record.throughput_kbps, "kbit/s", FOUND, TERM),
                    Row(_("Less: what the service needs"), -record.required_bit_rate_kbps, "kbit/s", REGISTER, TERM),
                    Row(_("Margin"), margin, "kbit/s", _("measured less needed"), MARGIN),
                ],
            )  # fmt: skip


def _draft(
    station: StationRecord, record: AsFound, key: str, severity: str, said: Sentence, cure: str, margin: float | None,
    unit: str, evidence: list[Row],
) -> Draft:  # fmt: skip
    given = [
        Row(
            _("Found on"),
            sentence("{day}", day=record.found_on),
            "",
            sentence(_("recorded by {person}"), person=record.found_by),
            GIVEN,
        )
    ]
    return Draft(
        kind="as_built_differs",
        severity=severity,
        headline=sentence(
            _("{station} as found on {day}: {said}"), station=station.name, day=record.found_on, said=said
        ),
        cure=cure,
        margin=margin,
        margin_unit=unit,
        # The aspect is part of the identity: several things may be off at one station.
        parties=Parties(link_id=station.link.id, station_label=station.label, other_station_label=key[:20]),
        evidence=[*given, *evidence] if evidence else [],
    )
