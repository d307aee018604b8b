"""Checks of a link against itself: mirrored ends, its channel plan, what its equipment can do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sites.sentences import Sentence, sentence
from sites.words import gettext_noop as _

from .drafts import Draft, Parties
from .evidence import GIVEN, LIMIT, MARGIN, TERM, Row
from .kinds import MUST_FIX
from .network import Network, PlanRecord, StationRecord

_FREQUENCY, _WIDTH = "frequency", "width"
TX_RADIO, RX_RADIO = _("transmit frequency, radio"), _("receive frequency, radio")
TX_ANTENNA, RX_ANTENNA = _("transmit frequency, antenna"), _("receive frequency, antenna")
POWER = _("output power")
# What tells the aspects apart in the identity of a finding: at most 20 characters.
_KEYS = {
    TX_RADIO: "tx radio",
    RX_RADIO: "rx radio",
    TX_ANTENNA: "tx antenna",
    RX_ANTENNA: "rx antenna",
    POWER: "output power",
}


def link_findings(network: Network, *, link_id: int | None = None) -> list[Draft]:
    """Findings about our own links that need no other link to be seen."""
    drafts: list[Draft] = []
    for stations in own_links(network, link_id):
        drafts += _not_mirrored(stations)
        for station in stations:
            drafts += _off_raster(station)
            drafts += _equipment(station)
    return drafts


def own_links(network: Network, link_id: int | None) -> Iterable[list[StationRecord]]:
    """The stations of each of our links, together."""
    by_link: dict[int, list[StationRecord]] = {}
    for station in network.stations:
        if station.link.own and link_id in (None, station.link.id):
            by_link.setdefault(station.link.id, []).append(station)
    return by_link.values()


def _not_mirrored(stations: Sequence[StationRecord]) -> Iterable[Draft]:
    if stations[0].link.kind == "ptp":
        if len(stations) != 2:
            yield _incomplete(
                stations,
                sentence(
                    _("A point-to-point link has two stations; {link} has {number}."),
                    link=stations[0].link.code,
                    number=len(stations),
                ),
            )
            return
        pairs = [(stations[0], stations[1])]
    else:
        hubs = [s for s in stations if s.role == "hub"]
        remotes = [s for s in stations if s.role == "remote"]
        if len(hubs) != 1 or not remotes:
            yield _incomplete(
                stations,
                sentence(
                    _(
                        "A point-to-multipoint link has one hub and at least one remote; {link} has "
                        "{hubs} and {remotes}."
                    ),
                    link=stations[0].link.code,
                    hubs=len(hubs),
                    remotes=len(remotes),
                ),
            )
            return
        pairs = [(hubs[0], remote) for remote in remotes]
    for one, other in pairs:
        yield from _mirror(one, other)
        yield from _mirror(other, one)
        if one.mode.channel_width_hz != other.mode.channel_width_hz:
            yield _pair_draft(
                one,
                other,
                sentence(
                    _("{one} uses {width:g} kHz, {other} {other_width:g} kHz"),
                    one=one.name,
                    width=one.mode.channel_width_hz / 1e3,
                    other=other.name,
                    other_width=other.mode.channel_width_hz / 1e3,
                ),
                _("{station}: channel width"),
                one.mode.channel_width_hz / 1e3,
                other.mode.channel_width_hz / 1e3,
                "kHz",
                _WIDTH,
            )


def _mirror(sender: StationRecord, receiver: StationRecord) -> Iterable[Draft]:
    sent, heard = sender.tx_frequency_hz, receiver.rx_frequency_hz
    if sent is None or heard is None or sent == heard:
        return
    yield _pair_draft(
        sender,
        receiver,
        sentence(
            _("{sender} transmits {sent:.5f} MHz, {receiver} listens on {heard:.5f} MHz"),
            sender=sender.name,
            sent=sent / 1e6,
            receiver=receiver.name,
            heard=heard / 1e6,
        ),
        _("{station}: transmit and receive frequency"),
        sent / 1e6,
        heard / 1e6,
        "MHz",
        _FREQUENCY,
    )


def _pair_draft(
    one: StationRecord,
    other: StationRecord,
    headline: str,
    what: str,
    first: float,
    second: float,
    unit: str,
    aspect: str,
) -> Draft:
    # The aspect is part of the identity: width and frequency may both differ between the same two stations.
    return Draft(
        kind="ends_not_mirrored",
        severity=MUST_FIX,
        headline=headline,
        cure=_("Give both ends the same frequency.")
        if aspect == _FREQUENCY
        else _("Give both ends the same width."),
        margin=-abs(first - second),
        margin_unit=unit,
        parties=Parties(
            link_id=one.link.id,
            station_label=one.label,
            other_link_id=other.link.id,
            other_station_label=other.label if aspect == _FREQUENCY else f"{other.label} {aspect}"[:20],
        ),
        evidence=[
            Row(sentence(what, station=one.name), first, unit, _("the register"), GIVEN),
            Row(sentence(what, station=other.name), second, unit, _("the register"), GIVEN),
            Row(_("Difference"), abs(first - second), unit, _("absolute"), TERM),
            Row(_("Permitted difference"), 0.0, unit, _("both ends must agree"), LIMIT),
            Row(_("Margin"), -abs(first - second), unit, _("permitted less found"), MARGIN),
        ],
    )


def _incomplete(stations: Sequence[StationRecord], said: Sentence) -> Draft:
    return Draft(
        kind="ends_not_mirrored",
        severity=MUST_FIX,
        headline=said,
        cure=_("Enter the missing stations."),
        parties=Parties(link_id=stations[0].link.id),
    )


def _off_raster(station: StationRecord) -> Iterable[Draft]:
    plan = station.link.plan
    if plan is None:
        return
    for direction, said, frequency in (
        (
            "transmits",
            _("{station} transmits {frequency:.5f} MHz, which is no channel of {plan}"),
            station.tx_frequency_hz,
        ),
        (
            "listens on",
            _("{station} listens on {frequency:.5f} MHz, which is no channel of {plan}"),
            station.rx_frequency_hz,
        ),
    ):
        if frequency is None:
            continue
        nearest = nearest_on_plan_hz(plan, frequency)
        if nearest == frequency:
            continue
        away_khz = abs(frequency - nearest) / 1e3
        yield Draft(
            kind="off_raster",
            severity=MUST_FIX,
            headline=sentence(said, station=station.name, frequency=frequency / 1e6, plan=plan.code),
            cure=sentence(_("The nearest channel is {frequency:.5f} MHz."), frequency=nearest / 1e6),
            margin=-away_khz,
            margin_unit="kHz",
            parties=Parties(
                link_id=station.link.id, station_label=station.label, other_station_label=direction[:20]
            ),
            evidence=[
                Row(_("Frequency"), frequency / 1e6, "MHz", _("the register"), GIVEN),
                Row(_("Nearest channel of the plan"), nearest / 1e6, "MHz", plan.code, GIVEN),
                Row(_("Distance from the channel"), away_khz, "kHz", _("absolute difference"), TERM),
                Row(_("Permitted distance"), 0.0, "kHz", plan.code, LIMIT),
                Row(_("Margin"), -away_khz, "kHz", _("permitted less found"), MARGIN),
            ],
        )


def nearest_on_plan_hz(plan: PlanRecord, frequency_hz: int) -> int:
    """The go or return frequency of the plan that lies nearest."""
    candidates = []
    for first in (plan.first_go_hz, plan.first_go_hz + plan.duplex_spacing_hz):
        number = round((frequency_hz - first) / plan.spacing_hz)
        candidates.append(first + min(max(number, 0), plan.channel_count - 1) * plan.spacing_hz)
    return min(candidates, key=lambda channel: abs(channel - frequency_hz))


def _equipment(station: StationRecord) -> Iterable[Draft]:
    mode, antenna = station.mode, station.antenna
    for of_radio, of_antenna, frequency in (
        (TX_RADIO, TX_ANTENNA, station.tx_frequency_hz),
        (RX_RADIO, RX_ANTENNA, station.rx_frequency_hz),
    ):
        if frequency is None:
            continue
        mhz = frequency / 1e6
        yield from _outside(
            station,
            of_radio,
            mhz,
            mode.tuning_min_mhz,
            mode.tuning_max_mhz,
            "MHz",
            mode.name,
        )
        yield from _outside(
            station,
            of_antenna,
            mhz,
            antenna.frequency_min_mhz,
            antenna.frequency_max_mhz,
            "MHz",
            antenna.name,
        )
    if station.tx_power_dbm is not None:
        yield from _outside(
            station,
            POWER,
            station.tx_power_dbm,
            mode.power_min_dbm,
            mode.power_max_dbm,
            "dBm",
            mode.name,
        )


def _outside(
    station: StationRecord, what: str, value: float, low: float, high: float, unit: str, equipment: str
) -> Iterable[Draft]:
    if low <= value <= high:
        return
    too_high = value > high
    limit = high if too_high else low
    margin = -(value - high) if too_high else -(low - value)
    beyond = Row(
        _("Value") if too_high else _("Value, sign turned"),
        value if too_high else -value,
        unit,
        _("the register"),
        TERM,
    )
    yield Draft(
        kind="equipment_limits",
        severity=MUST_FIX,
        headline=sentence(
            _("{station}: {what} is {value:g} {unit}; {equipment} does {low:g} to {high:g} {unit}"),
            station=station.name,
            what=sentence(what),
            value=value,
            unit=unit,
            equipment=equipment,
            low=low,
            high=high,
        ),
        cure=sentence(
            _("Choose {low:g} to {high:g} {unit}, or other equipment."), low=low, high=high, unit=unit
        ),
        margin=margin,
        margin_unit="dB" if unit == "dBm" else unit,
        parties=Parties(
            link_id=station.link.id, station_label=station.label, other_station_label=_KEYS[what]
        ),
        evidence=[
            beyond,
            Row(
                _("Highest") if too_high else _("Lowest, sign turned"),
                limit if too_high else -limit,
                unit,
                equipment,
                LIMIT,
            ),
            Row(_("Margin"), margin, "dB" if unit == "dBm" else unit, _("limit less value"), MARGIN),
        ],
    )
