"""One site with everything that the checks at it share, and words that their findings share."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from sites.sentences import Sentence, joined, repeated, sentence
from sites.words import gettext_noop as _
from spectrum.conflicts.budget import Noise
from spectrum.conflicts.criteria import Criteria, Limits
from spectrum.conflicts.network import Network, StationRecord

from .coupling import Coupling
from .records import AtSites, Equipment, Place

ISOLATION_RULES: Final = _("22 + 20 log d/λ less gains; 28 + 40 log d/λ, at most 70 dB")
SAFE: Final = sentence(_("Lines are opened with transmitters off and loaded; never power into an open port."))
ASSUMED: Final = _(
    "The spacing of antennas at one site is not entered: {spacing:g} m horizontally, the height difference, and "
    "the full gain of each antenna toward the other are taken. Measure the isolation."
)
ESTIMATE: Final = _(
    "Isolation between antennas is an estimate by rule of thumb: the vertical formula is cut off at 70 dB, and a "
    "field note reports 16 dB less than it gives. Measure it."
)
FILTER_ASSUMED: Final = _(
    "A duplexer's isolation is taken to grow in proportion to the distance from its branch's frequency, up to the whole "
    "at its other one; a duplexer with notches alone has less."
)


@dataclass(frozen=True)
class Surroundings:
    """A site, the transmitters around it at its receivers, and the measures they are held against."""

    at: AtSites
    place: Place
    coupling: Coupling
    noise: Noise
    limits: Limits
    criteria: Criteria

    @property
    def network(self) -> Network:
        return self.at.network

    def station(self, number: int) -> StationRecord:
        return self.at.network.stations[int(number)]

    def equipment(self, number: int) -> Equipment:
        return self.at.of_stations([number])[0]

    def assumed(self) -> Sentence:
        """The sentence on spacings that nobody has entered."""
        return repeated(ASSUMED, spacing=self.criteria.same_site_spacing_m)


def any_of(ways: Iterable[str]) -> Sentence:
    """Several cures of which one is enough, with the caution that goes with them."""
    return sentence(_("Any one of: {ways}. {caution}"), ways=joined("; ", ways), caution=SAFE)
