"""Checks of a link against itself: mirrored ends, its channel plan, what its equipment can do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from .drafts import Draft, Parties
from .evidence import GIVEN, LIMIT, MARGIN, TERM, Row
from .kinds import MUST_FIX
from .network import Network, PlanRecord, StationRecord


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
                f"A point-to-point link has two stations; {stations[0].link.code} has {len(stations)}.",
            )
            return
        pairs = [(stations[0], stations[1])]
    else:
        hubs = [s for s in stations if s.role == "hub"]
        remotes = [s for s in stations if s.role == "remote"]
        if len(hubs) != 1 or not remotes:
            yield _incomplete(
                stations,
                f"A point-to-multipoint link has one hub and at least one remote; {stations[0].link.code} has "
                f"{len(hubs)} and {len(remotes)}.",
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
                f"{one.name} uses {one.mode.channel_width_hz / 1e3:g} kHz, "
                f"{other.name} {other.mode.channel_width_hz / 1e3:g} kHz",
                "channel width",
                one.mode.channel_width_hz / 1e3,
                other.mode.channel_width_hz / 1e3,
                "kHz",
                "width",
            )


def _mirror(sender: StationRecord, receiver: StationRecord) -> Iterable[Draft]:
    sent, heard = sender.tx_frequency_hz, receiver.rx_frequency_hz
    if sent is None or heard is None or sent == heard:
        return
    yield _pair_draft(
        sender,
        receiver,
        f"{sender.name} transmits {sent / 1e6:.5f} MHz, {receiver.name} listens on {heard / 1e6:.5f} MHz",
        "transmit and receive frequency",
        sent / 1e6,
        heard / 1e6,
        "MHz",
        "frequency",
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
        cure=f"Give both ends the same {aspect}.",
        margin=-abs(first - second),
        margin_unit=unit,
        parties=Parties(
            link_id=one.link.id,
            station_label=one.label,
            other_link_id=other.link.id,
            other_station_label=other.label if aspect == "frequency" else f"{other.label} {aspect}"[:20],
        ),
        evidence=[
            Row(f"{one.name}: {what}", first, unit, "the register", GIVEN),
            Row(f"{other.name}: {what}", second, unit, "the register", GIVEN),
            Row("Difference", abs(first - second), unit, "absolute", TERM),
            Row("Permitted difference", 0.0, unit, "both ends must agree", LIMIT),
            Row("Margin", -abs(first - second), unit, "permitted less found", MARGIN),
        ],
    )


def _incomplete(stations: Sequence[StationRecord], sentence: str) -> Draft:
    return Draft(
        kind="ends_not_mirrored",
        severity=MUST_FIX,
        headline=sentence,
        cure="Enter the missing stations.",
        parties=Parties(link_id=stations[0].link.id),
    )


def _off_raster(station: StationRecord) -> Iterable[Draft]:
    plan = station.link.plan
    if plan is None:
        return
    for direction, frequency in (
        ("transmits", station.tx_frequency_hz),
        ("listens on", station.rx_frequency_hz),
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
            headline=f"{station.name} {direction} {frequency / 1e6:.5f} MHz, which is no channel of {plan.code}",
            cure=f"The nearest channel is {nearest / 1e6:.5f} MHz.",
            margin=-away_khz,
            margin_unit="kHz",
            parties=Parties(
                link_id=station.link.id, station_label=station.label, other_station_label=direction[:20]
            ),
            evidence=[
                Row("Frequency", frequency / 1e6, "MHz", "the register", GIVEN),
                Row("Nearest channel of the plan", nearest / 1e6, "MHz", plan.code, GIVEN),
                Row("Distance from the channel", away_khz, "kHz", "absolute difference", TERM),
                Row("Permitted distance", 0.0, "kHz", plan.code, LIMIT),
                Row("Margin", -away_khz, "kHz", "permitted less found", MARGIN),
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
    for direction, frequency in (("transmit", station.tx_frequency_hz), ("receive", station.rx_frequency_hz)):
        if frequency is None:
            continue
        mhz = frequency / 1e6
        yield from _outside(
            station,
            f"{direction} frequency, radio",
            mhz,
            mode.tuning_min_mhz,
            mode.tuning_max_mhz,
            "MHz",
            mode.name,
        )
        yield from _outside(
            station,
            f"{direction} frequency, antenna",
            mhz,
            antenna.frequency_min_mhz,
            antenna.frequency_max_mhz,
            "MHz",
            antenna.name,
        )
    if station.tx_power_dbm is not None:
        yield from _outside(
            station,
            "output power",
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
        "Value" if too_high else "Value, sign turned",
        value if too_high else -value,
        unit,
        "the register",
        TERM,
    )
    yield Draft(
        kind="equipment_limits",
        severity=MUST_FIX,
        headline=f"{station.name}: {what} is {value:g} {unit}; {equipment} does {low:g} to {high:g} {unit}",
        cure=f"Choose {low:g} to {high:g} {unit}, or other equipment.",
        margin=margin,
        margin_unit="dB" if unit == "dBm" else unit,
        parties=Parties(
            link_id=station.link.id, station_label=station.label, other_station_label=_short(what)
        ),
        evidence=[
            beyond,
            Row(
                "Highest" if too_high else "Lowest, sign turned",
                limit if too_high else -limit,
                unit,
                equipment,
                LIMIT,
            ),
            Row("Margin", margin, "dB" if unit == "dBm" else unit, "limit less value", MARGIN),
        ],
    )


def _short(what: str) -> str:
    """A key of at most 20 characters that tells the aspects apart."""
    return what.replace("transmit frequency", "tx").replace("receive frequency", "rx").replace(", ", " ")[:20]
