"""Distances to the reference levels for exposure, as guidance; within the near field none is given."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from django.utils.translation import gettext, gettext_noop

from sites.saying import said
from sites.templatetags.figures import fixed
from sites.templatetags.figures import power as in_reader_s_unit
from spectrum.comparison import eirp_dbm
from spectrum.conflicts.network import AntennaRecord, StationRecord
from spectrum.radio.exposure import (
    cfr_1_1310_power_density_w_per_m2,
    exposure_distance,
    icnirp_2020_reference_levels,
)
from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.ranges import RadioRangeError

from .power import PowerSetting
from .words import Line

NO_DISTANCE = gettext_noop("no distance")
NOT_ENTERED = gettext_noop(
    "Not in the register; taken from the gain as the length of a line source: half a wavelength times the gain "
    "across the beam, a quarter along it (textbooks on arrays; from memory, not verified)."
)


def antenna_size_m(pattern: str, gain_dbi: float, frequency_mhz: float) -> float:
    """Length of a uniform line source of a gain, m: broadside L = λG/2 for an omnidirectional pattern, else along
    the beam L = λG/4 (textbooks on arrays; from memory, not verified).

    >>> round(antenna_size_m("f1336_omni", 6.0, 410.0), 2), round(antenna_size_m("measured", 6.0, 410.0), 2)
    (1.46, 0.73)
    """
    wavelength = SPEED_OF_LIGHT_M_PER_S / 1e6 / frequency_mhz
    return float(wavelength * 10.0 ** (gain_dbi / 10.0) / (2.0 if pattern == "f1336_omni" else 4.0))


def size_of(antenna: AntennaRecord, frequency_mhz: float) -> tuple[float, str]:
    """The antenna's size in m, as entered or from its gain, and a sentence where it is not entered."""
    if antenna.diameter_m is not None:
        return antenna.diameter_m, ""
    return antenna_size_m(antenna.pattern, antenna.gain_dbi, frequency_mhz), gettext(NOT_ENTERED)


def exposure_lines(station: StationRecord, power: PowerSetting | None) -> list[Line]:
    """The distances of one station in its main beam at the power to set, or at the planned one where none is set."""
    planned = eirp_dbm(station)
    if station.tx_frequency_hz is None or planned is None or station.tx_power_dbm is None:
        return []
    set_dbm = power.set_dbm if power is not None else None
    radiated_dbm = planned if set_dbm is None else planned - station.tx_power_dbm + set_dbm
    frequency = station.tx_frequency_hz / 1e6
    size, note = size_of(station.antenna, frequency)
    which = gettext("at the planned power") if set_dbm is None else gettext("at the power to set")
    distances = distance_lines(radiated_dbm, frequency, size)
    if all(line.value == gettext(NO_DISTANCE) for line in distances):
        # Of four refusals the first has the greatest distance; it says all that the others could.
        distances = [replace(distances[0], name=gettext("general public and occupational"))]
    return [
        Line("e.i.r.p.", in_reader_s_unit(radiated_dbm), which),
        *distances,
        *(
            [Line(gettext("antenna size"), gettext("{size} m taken").format(size=fixed(size, 1)), note)]
            if note
            else []
        ),
    ]


def distance_lines(radiated_dbm: float, frequency_mhz: float, size_m: float) -> list[Line]:
    """Four distances in the main beam: for the general public and occupational, by both documents."""
    return [
        _line(f"{who}, {document}", level, frequency_mhz, occupational, radiated_dbm, size_m)
        for who, occupational in ((gettext("general public"), False), (gettext("occupational"), True))
        for document, level in (("ICNIRP 2020", _icnirp), ("47 CFR 1.1310", _cfr))
    ]


def _icnirp(frequency_mhz: float, occupational: bool) -> float:
    levels = icnirp_2020_reference_levels(frequency_mhz, occupational=occupational)
    return float(levels.power_density_w_per_m2)


def _cfr(frequency_mhz: float, occupational: bool) -> float:
    return float(cfr_1_1310_power_density_w_per_m2(frequency_mhz, occupational=occupational))


def _line(
    name: str,
    level: Callable[[float, bool], float],
    frequency: float,
    occupational: bool,
    radiated_dbm: float,
    size: float,
) -> Line:
    try:
        density = level(frequency, occupational)
    except RadioRangeError as error:
        given = gettext("The frequency is {mhz} MHz; {limits}")
        return Line(
            name, gettext(NO_DISTANCE), given.format(mhz=f"{error.value:g}", limits=said(error.limits))
        )
    found = exposure_distance(10.0 ** (radiated_dbm / 10.0) / 1e3, density, frequency, size)
    if bool(np.any(found.refused)):
        return Line(name, gettext(NO_DISTANCE), str(found.reasons))
    return Line(
        name,
        f"{fixed(float(found.distance_m), 1)} m",
        gettext("to {density} W/m²").format(density=fixed(density, 2)),
    )
