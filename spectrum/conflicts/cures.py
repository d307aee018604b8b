"""What would cure an interference finding: each change tried alone by computing the pair's budget again.

What is tried: less power at the interferer, the other polarisation on its link, its pair moved by whole
channels, and the antenna types of the register at either end. Only this pair is judged; what a change does
to the interferer's own path and to other links is for the check that follows it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from sites.sentences import Sentence, sentence
from sites.terrain import TerrainStore
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy

from .antenna_gain import pattern_gap
from .criteria import Criteria
from .network import AntennaRecord, Network, StationRecord
from .sensitivity import NOISE_KINDS, WANTED_KIND, Case, margin_of_case

KINDS: Final = (*NOISE_KINDS, WANTED_KIND)
MOST_CHANNELS: Final = 20
MOST_ANTENNAS: Final = 2
OTHER_POLARISATION: Final = {"V": "H", "H": "V"}


@dataclass(frozen=True)
class Cure:
    """One change and the margin that it gives, dB; ``note`` where it is not open as it stands."""

    change: str
    margin_db: float
    note: str = ""

    @property
    def cures(self) -> bool:
        """Whether the limit is kept with it."""
        return self.margin_db >= 0.0


@dataclass(frozen=True)
class Cures:
    """The margin as the register stands, and every change tried that gives more."""

    margin_db: float
    rows: tuple[Cure, ...]


def cures_of_case(
    network: Network,
    criteria: Criteria,
    case: Case,
    antennas: Sequence[AntennaRecord],
    terrain: TerrainStore | None = None,
) -> Cures:
    """Try every change on the pair of a case.

    Parameters
    ----------
    network : the two links whole, made of records
    case : one interferer and one victim, of different links; an aggregate has no single cure
    antennas : the antenna types that may be used instead

    Raises
    ------
    ValueError
        A case without an interferer.
    """
    if case.tx is None:
        raise ValueError("An aggregate has no single interferer whose change could be tried.")
    trial = _Trial(network, criteria, case, case.tx, terrain)
    base = trial.margin({})
    rows = [
        *trial.less_power(base),
        *trial.other_polarisation(),
        *trial.other_channel(),
        *trial.other_antenna(case.tx, antennas, base),
        *trial.other_antenna(case.rx, antennas, base),
    ]
    return Cures(base, tuple(row for row in rows if row.margin_db > base))


class _Trial:
    def __init__(
        self, network: Network, criteria: Criteria, case: Case, tx: int, terrain: TerrainStore | None
    ) -> None:
        self.network, self.criteria, self.case, self.terrain = network, criteria, case, terrain
        self.stations = list(network.stations)
        self.sender, self.victim = self.stations[tx], self.stations[case.rx]
        self.tx = tx

    def margin(self, changed: dict[int, StationRecord]) -> float:
        """The margin with some stations, by their number, replaced."""
        stations = [changed.get(n, station) for n, station in enumerate(self.stations)]
        network = Network(as_of=self.network.as_of, stations=stations)
        with np.errstate(invalid="ignore"):
            return margin_of_case(network, self.criteria, self.case, self.terrain)

    def _on_senders_link(self) -> Iterator[tuple[int, StationRecord]]:
        for n, station in enumerate(self.stations):
            if station.link.id == self.sender.link.id:
                yield n, station

    def less_power(self, base: float) -> Iterator[Cure]:
        """As many whole dB less as are missing; each dB counts in full, which the margin computed shows."""
        power = self.sender.tx_power_dbm
        if base >= 0.0 or power is None:
            return
        less = math.ceil(-base)
        margin = self.margin({self.tx: replace(self.sender, tx_power_dbm=power - less)})
        lowest = self.sender.mode.power_min_dbm
        note = (
            sentence(_("The radio goes down to {level}."), level=_dbm(lowest))
            if power - less < lowest
            else ""
        )
        change = sentence(
            _("{station}: {less} dB less power, {level}"),
            station=self.sender.name,
            less=less,
            level=_dbm(power - less),
        )
        yield Cure(change, margin, note)

    def other_polarisation(self) -> Iterator[Cure]:
        changed = {
            n: replace(s, polarisation=OTHER_POLARISATION[s.polarisation])
            for n, s in self._on_senders_link()
            if s.polarisation in OTHER_POLARISATION
        }
        if self.tx in changed:
            said = (
                _("{link}: horizontal polarisation at all its stations")
                if changed[self.tx].polarisation == "H"
                else _("{link}: vertical polarisation at all its stations")
            )
            yield Cure(sentence(said, link=self.sender.link.code), self.margin(changed))

    def other_channel(self) -> Iterator[Cure]:
        """The nearest channel above and below on which the limit is kept, the whole pair moved."""
        plan = self.sender.link.plan
        step_hz = plan.spacing_hz if plan else self.sender.mode.channel_width_hz
        sent = self.sender.tx_frequency_hz
        if sent is None:
            return
        for sign, moved in (
            (
                1,
                ngettext_lazy(
                    "{link}: its pair {count} channel of {spacing:g} kHz up, {station} on {frequency:.5f} MHz",
                    "{link}: its pair {count} channels of {spacing:g} kHz up, {station} on {frequency:.5f} MHz",
                ),
            ),
            (
                -1,
                ngettext_lazy(
                    "{link}: its pair {count} channel of {spacing:g} kHz down, {station} on {frequency:.5f} MHz",
                    "{link}: its pair {count} channels of {spacing:g} kHz down, {station} on {frequency:.5f} MHz",
                ),
            ),
        ):
            for n in range(1, MOST_CHANNELS + 1):
                move = sign * n * step_hz
                margin = self.margin({k: _moved(s, move) for k, s in self._on_senders_link()})
                # No overlap at all leaves nothing to judge: there is no margin to state.
                if not math.isfinite(margin):
                    break
                if margin >= 0.0:
                    mhz = (sent + move) / 1e6
                    tuned = self.sender.mode.tuning_min_mhz <= mhz <= self.sender.mode.tuning_max_mhz
                    yield Cure(
                        sentence(
                            moved,
                            link=self.sender.link.code,
                            count=n,
                            spacing=step_hz / 1e3,
                            station=self.sender.name,
                            frequency=mhz,
                        ),
                        margin,
                        "" if tuned else _("The radio does not tune there."),
                    )
                    break

    def other_antenna(self, at: int, antennas: Sequence[AntennaRecord], base: float) -> Iterator[Cure]:
        """The antenna types that give the most, of those that give more than the one in use."""
        station = self.stations[at]
        used = [hz / 1e6 for hz in (station.tx_frequency_hz, station.rx_frequency_hz) if hz is not None]
        tried = [
            Cure(
                sentence(_("{station}: antenna {antenna}"), station=station.name, antenna=antenna.name),
                self.margin({at: replace(station, antenna=antenna)}),
            )
            for antenna in antennas
            if antenna.name != station.antenna.name and all(_fits(antenna, mhz) for mhz in used)
        ]
        better = [cure for cure in tried if cure.margin_db > base]
        yield from sorted(better, key=lambda cure: -cure.margin_db)[:MOST_ANTENNAS]


def _fits(antenna: AntennaRecord, mhz: float) -> bool:
    within = antenna.frequency_min_mhz <= mhz <= antenna.frequency_max_mhz
    return within and not pattern_gap(antenna, mhz)


def _moved(station: StationRecord, by_hz: int) -> StationRecord:
    sent, heard = station.tx_frequency_hz, station.rx_frequency_hz
    return replace(
        station,
        tx_frequency_hz=None if sent is None else sent + by_hz,
        rx_frequency_hz=None if heard is None else heard + by_hz,
    )


def _dbm(level: float) -> Sentence:
    if level < 0:
        return sentence("−{level:.1f} dBm", level=-level)
    return sentence("{level:.1f} dBm", level=level)
