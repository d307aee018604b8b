"""Whether a station that transmits and receives at once is isolated from itself: needed against found."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sites.sentences import Sentence, repeated, sentence
from sites.words import gettext_noop as _
from spectrum.conflicts.budget import Noise
from spectrum.conflicts.criteria import Limits
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import GIVEN, LIMIT, MARGIN, SUM, TERM, Row
from spectrum.conflicts.kinds import DECIDE, MUST_FIX, NOTE
from spectrum.conflicts.network import Network, StationRecord
from spectrum.conflicts.wording import bandwidth_term
from spectrum.radio.isolation import antenna_isolation, required_separation

from .coupling import isolation_of_itself_db, spacing_isolation_db
from .records import Equipment
from .surroundings import ISOLATION_RULES, Surroundings, any_of

REGISTER = _("the register")

NOISE, BLOCKING = _("transmitter noise"), _("blocking")


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
            Row(needed_against(name), value, "dB", _("arithmetic below"), GIVEN)
            for value, name, _rows in needs
        ),
        *_found_rows(around, number, equipment),
        *rows,
        Row(needed_against(what), needed, "dB", _("sum"), SUM),
        Row(_("Isolation found"), found, "dB", _("duplexer and antenna spacing in series"), LIMIT),
        Row(_("Margin"), margin, "dB", _("found less needed"), MARGIN),
    ]
    said = (
        _(
            "{station} has {found:.1f} dB of isolation from itself, {apart:.1f} dB less than the {needed:.1f} dB "
            "needed against {what}"
        )
        if margin < 0
        else _(
            "{station} has {found:.1f} dB of isolation from itself, only {apart:.1f} dB more than the "
            "{needed:.1f} dB needed against {what}"
        )
    )
    return Draft(
        kind="duplex_isolation",
        severity=MUST_FIX if margin < -spread else DECIDE,
        headline=sentence(
            said, station=station.name, found=found, apart=abs(margin), needed=needed, what=sentence(what)
        ),
        cure=_cure(around, number, equipment, needed) if margin < 0 else "",
        margin=margin,
        margin_unit="dB",
        parties=_parties(station),
        evidence=evidence,
        not_judged=[*missing, *(_notes(around, number, equipment) if estimated else ())],
    )


def needed_against(what: str) -> Sentence:
    """The name of the row that says how much isolation is needed against one thing."""
    return repeated(_("Isolation needed against {what}"), what=repeated(what))


def isolation_needs(
    network: Network, noise: Noise, limits: Limits, number: int, equipment: Equipment
) -> list[tuple[float, str, list[Row]]]:
    """The isolation in dB that a station needs from itself, against what, and the arithmetic; what is known only."""
    return [
        (float(sum(row.value for row in rows if isinstance(row.value, float))), what, rows)
        for what, rows in (
            (NOISE, _for_noise(network, noise, limits, number, equipment)),
            (BLOCKING, _for_blocking(network, number, equipment)),
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
        Row(_("Transmitter output power"), float(network.tx_power_dbm[number]), "dBm", REGISTER, TERM),
        Row(_("Transmitter noise density"), float(equipment.transmitter_noise_dbc_per_hz), "dBc/Hz", _("the radio type"), TERM),
        Row(_("Receiver's bandwidth"), float(10.0 * np.log10(width_khz * 1e3)), "dB Hz", bandwidth_term(width_khz), TERM),
        Row(_("Less: noise at the receiver"), -float(noise.total_dbm[number]), "dBm", _("kTB, noise figure, ITU-R P.372"), TERM),
        Row(_("Less: permitted I/N"), -limit, "dB", limits.band[number].source, TERM),
    ]  # fmt: skip


def _for_blocking(network: Network, number: int, equipment: Equipment) -> list[Row]:
    if equipment.blocking_level_dbm is None:
        return []
    return [
        Row(_("Transmitter output power"), float(network.tx_power_dbm[number]), "dBm", REGISTER, TERM),
        Row(
            _("Less: blocking level"), -float(equipment.blocking_level_dbm), "dBm", _("the radio type"), TERM
        ),
    ]


def _found_rows(around: Surroundings, number: int, equipment: Equipment) -> Iterator[Row]:
    if equipment.duplexer_isolation_db is not None:
        yield Row(
            _("Isolation of the duplexer"), float(equipment.duplexer_isolation_db), "dB", REGISTER, GIVEN
        )
    for name, value in (
        (_("Antenna spacing, horizontal"), equipment.spacing_m),
        (_("Antenna spacing, vertical"), equipment.spacing_vertical_m),
    ):
        if value:
            yield Row(name, float(value), "m", REGISTER, GIVEN)
    if equipment.spacing_m or equipment.spacing_vertical_m:
        yield Row(
            _("Isolation of the antennas, estimate"),
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
    outside = () if bool(isolation.within_range) else (_("The spacing lies outside the formula's range."),)
    return (*outside, *isolation.notes)


def _missing(station: StationRecord, equipment: Equipment) -> Iterator[str]:
    if not equipment.isolation_entered:
        yield sentence(
            _(
                "{station} has neither a duplexer isolation nor a spacing of separate antennas: "
                "what isolates its receiver from its transmitter is not known."
            ),
            station=station.name,
        )
    for figure, said in (
        (
            equipment.transmitter_noise_dbc_per_hz,
            _(
                "The radio type of {station} has no transmitter noise: noise in its own receiver was not judged."
            ),
        ),
        (
            equipment.blocking_level_dbm,
            _("The radio type of {station} has no blocking level: blocking was not judged."),
        ),
    ):
        if figure is None:
            yield sentence(said, station=station.name)


def _cannot_judge(
    around: Surroundings,
    station: StationRecord,
    need: tuple[float, str, list[Row]] | None,
    missing: list[str],
) -> Draft:
    evidence: list[Row] = []
    headline = sentence(
        _("{station} transmits and receives at once; its isolation cannot be judged in full"),
        station=station.name,
    )
    if need is not None:
        needed, what, rows = need
        evidence = [*rows, Row(needed_against(what), needed, "dB", _("sum"), SUM)]
        headline = sentence(
            _(
                "{station} needs {needed:.1f} dB of isolation from itself against {what}; what it has is not known"
            ),
            station=station.name,
            needed=needed,
            what=sentence(what),
        )
    return Draft(
        kind="duplex_isolation",
        severity=NOTE,
        headline=headline,
        cure=_("Enter what was measured or stands on the data sheets of duplexer and radio."),
        parties=_parties(station),
        evidence=evidence,
        not_judged=missing,
    )


def _cure(around: Surroundings, number: int, equipment: Equipment, needed: float) -> Sentence:
    network = around.network
    filters = needed - spacing_isolation_db(network, number, equipment)
    gain = float(network.gain_dbi[number])
    apart = required_separation(float(network.tx_hz[number] / 1e6), needed, gain, gain)
    ways = [sentence(_("a duplexer or filters with {filters:.1f} dB"), filters=filters)]
    if bool(apart.vertical_within_range):
        ways.append(
            sentence(
                _("separate antennas {spacing:.1f} m one above the other (estimate)"),
                spacing=float(apart.vertical_m),
            )
        )
    ways.append(sentence(_("less power")))
    return any_of(ways)


def _parties(station: StationRecord) -> Parties:
    return Parties(link_id=station.link.id, station_label=station.label, site_id=station.site_id)
