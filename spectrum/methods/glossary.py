"""Which formula stands behind a quantity: the names of evidence rows and of columns, in one place."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from licences import areas, emissions, limits
from sites import geodesy, positions
from spectrum.conflicts.kinds import KINDS, LICENCE_LIMITS
from spectrum.methods.catalogue import Method, method
from spectrum.radio import (
    capacity,
    channel_rasters,
    harmonics,
    interference,
    intermodulation,
    isolation,
    noise,
    power,
    rejection,
)
from spectrum.radio.antennas import cross_polar, f699, f1245, f1336, gain, measured, pointing, simple
from spectrum.radio.propagation import delta_bullington, free_space, fresnel, p452, p530

Formula = Callable[..., Any]

# A quantity's name begins with the key; the longest key that fits counts. Capitals do not matter.
QUANTITIES: Final[dict[str, Formula]] = {
    # along the path
    "path length": geodesy.inverse,
    "length": geodesy.inverse,
    "distance between the two positions": geodesy.inverse,
    "azimuth": geodesy.inverse,
    "elevation": pointing.elevation_deg,
    "off axis": pointing.off_axis_deg,
    "refractivity lapse": p452.Climate,
    "sea-level refractivity": p452.Climate,
    "pressure": p452.Climate,
    "temperature": p452.Climate,
    "basic transmission loss": p452.basic_transmission_loss,
    "part: free space": p452.basic_transmission_loss,
    "part: diffraction": delta_bullington.delta_bullington_loss_db,
    "part: troposcatter": p452.basic_transmission_loss,
    "part: ducting": p452.basic_transmission_loss,
    "free space": free_space.free_space_loss_db,
    "clearance": fresnel.fresnel_clearance,
    "first fresnel zone": fresnel.fresnel_radius_m,
    "fade": p530.fade_exceedance_percent,
    # the budget
    "antenna gain toward": gain.gain_towards_dbi,
    "cross-polarisation": cross_polar.cross_polar_loss_db,
    "cross-polar discrimination": cross_polar.cross_polar_loss_db,
    "frequency-dependent rejection": rejection.frequency_dependent_rejection,
    "interference at the receiver": interference.interference_level_dbm,
    "less: wanted signal": interference.interference_level_dbm,
    "wanted signal": interference.interference_level_dbm,
    "less: thermal noise": noise.ktb_dbm,
    "less: noise figure": noise.noise_floor_dbm,
    "less: noise figure with man-made noise": noise.combined_noise_figure_db,
    "less: noise at the receiver": noise.noise_floor_dbm,
    "noise figure": noise.noise_floor_dbm,
    "man-made noise": noise.manmade_noise_figure_db,
    "radio noise": noise.manmade_noise_figure_db,
    "i/n": interference.i_over_n_db,
    "i/c": interference.c_over_i_db,
    "c/i": interference.c_over_i_db,
    "threshold degradation": interference.threshold_degradation_db,
    "interferers summed": interference.aggregate_dbm,
    "further interferer": interference.aggregate_dbm,
    "sum of all": interference.aggregate_dbm,
    "aggregate i/n": interference.i_over_n_db,
    # at a site
    "isolation needed": isolation.required_duplex_isolation,
    "isolation found": isolation.duplex_isolation_found_db,
    "isolation of the antennas": isolation.antenna_isolation,
    "isolation between the antennas": isolation.antenna_isolation,
    "receiver's duplexer": isolation.duplex_isolation_found_db,
    "transmitter's duplexer": isolation.duplex_isolation_found_db,
    "receiver's bandwidth": isolation.required_duplex_isolation,
    "carrier at": interference.interference_level_dbm,
    "at the receiver's input": interference.interference_level_dbm,
    "transmitter noise at": isolation.required_duplex_isolation,
    "transmitter noise over": interference.i_over_n_db,
    "further transmitter": interference.aggregate_dbm,
    "products": intermodulation.products_in_passbands,
    "product": intermodulation.product_level_dbm,
    "product over noise": interference.i_over_n_db,
    "× level of": intermodulation.product_level_dbm,
    "less: 2 × intercept point": intermodulation.product_level_dbm,
    "ways in which": intermodulation.product_level_dbm,
    "harmonic": harmonics.harmonics_in_passbands,
    "width of the harmonic": harmonics.harmonics_in_passbands,
    "distance of the sites": geodesy.inverse,
    # power, channel, capacity
    "e.r.p.": power.eirp_to_erp_dbm,
    "e.i.r.p.": power.eirp_dbm,
    "power limit": power.margin_to_limit_db,
    "nearest channel of the plan": channel_rasters.nearest_channel,
    "distance from the channel": channel_rasters.nearest_channel,
    "bit rate": capacity.gross_bit_rate_kbps,
    "round trip": capacity.round_trip_delay_ms,
    # papers and places
    "emission": emissions.explain,
    "licence comparison": limits.compare,
    "position tolerance": areas.geodesic_distance_m,
    "as typed": positions.parse_position,
}

# What the row's source says decides between formulas for one quantity.
_BY_SOURCE: Final[dict[str, tuple[tuple[str, Formula], ...]]] = {
    "basic transmission loss": (
        ("P.525", free_space.free_space_loss_db),
        ("smooth earth", p452.smooth_earth_loss),
    ),
    "antenna gain toward": (
        ("F.699", f699.gain_dbi),
        ("F.1245", f1245.gain_dbi),
        ("F.1336, omni", f1336.omni_gain_dbi),
        ("F.1336, sector", f1336.sector_gain_dbi),
        ("measured", measured.measured_gain_dbi),
        ("dipole", simple.dipole_gain_dbi),
        ("cosine", simple.cosine_gain_dbi),
        ("constant", simple.constant_gain_dbi),
    ),
}

# No formula: read in the register, granted by a licence, or the difference of two rows above.
FROM_THE_REGISTER: Final = (
    "transmit frequency",
    "receive frequency",
    "frequency",
    "transmitter output power",
    "transmitter noise density",
    "feeder and duplexer",
    "isolation of the duplexer",
    "antenna spacing",
    "blocking level",
    "less: blocking level",
    "documented exception",
    "permitted",
    "less: permitted",
    "margin",
    "difference",
    "value",
    "highest",
    "lowest",
    "days",
    "counts as unused after",
    "found on",
    "isolation measured",
    "throughput",
    "less: what the service needs",
)


@dataclass(frozen=True)
class Asked:
    """A quantity as a page names it, with what else a row of evidence says about it."""

    name: str
    source: str = ""
    role: str = ""
    kind: str = ""  # of the finding under which the row stands


@lru_cache(maxsize=8192)  # pages ask the same few names row by row
def method_of(asked: Asked | str) -> Method | None:
    """The formula behind a quantity; None where there is none, or where it is read in the register.

    >>> method_of("Basic transmission loss, 20 % of time").slug
    'p452-basic-transmission-loss'
    >>> method_of("Transmit frequency") is None
    True
    """
    if isinstance(asked, str):
        asked = Asked(asked)
    key = _key(asked.name, (*QUANTITIES, *FROM_THE_REGISTER))
    if key in QUANTITIES and not _is_read(asked):
        for words, formula in _BY_SOURCE.get(key, ()):
            if words in asked.source:
                return method(formula)
        return method(QUANTITIES[key])
    if asked.role == "power":  # one of many levels; it carries the interferer's name
        return method(interference.interference_level_dbm)
    kind = KINDS.get(asked.kind)
    if kind is not None and kind.group == LICENCE_LIMITS and asked.role == "term" and not key:
        return method(limits.compare)
    return None


def is_from_the_register(asked: Asked) -> bool:
    """Whether no formula stands behind a row: its value was read, granted, or is a plain difference."""
    return method_of(asked) is None and (
        _is_read(asked) or _key(asked.name, (*QUANTITIES, *FROM_THE_REGISTER)) in FROM_THE_REGISTER
    )


def _is_read(asked: Asked) -> bool:
    return asked.source.startswith(("the register", "as found", "recorded by"))


def _key(name: str, keys: tuple[str, ...]) -> str:
    """The longest key with which the name begins, also after a station's name or a number; empty if none."""
    lowered = name.lower()
    begins = [lowered, *([lowered.split(": ", 1)[1]] if ": " in lowered else [])]
    begins.append(re.sub(r"^\d+ ", "", lowered))
    fits = [key for key in keys if any(one.startswith(key) for one in begins)]
    return max(fits, key=len, default="")
