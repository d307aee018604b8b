"""Isolation between antennas at one site, and what a duplex station needs of it."""

from spectrum.radio.isolation.antennas import (
    FIELD_DERATING_DB,
    GAIN_ANTENNA_LEAST_M,
    VERTICAL_LIMIT_DB,
    AntennaIsolation,
    RequiredSeparation,
    antenna_isolation,
    required_separation,
)
from spectrum.radio.isolation.duplex import (
    DuplexIsolation,
    duplex_isolation_found_db,
    required_duplex_isolation,
)
from spectrum.radio.isolation.formulas import (
    horizontal_isolation_db,
    required_horizontal_separation_m,
    required_vertical_separation_m,
    slant_isolation_db,
    vertical_isolation_db,
)

__all__ = [
    "FIELD_DERATING_DB",
    "GAIN_ANTENNA_LEAST_M",
    "VERTICAL_LIMIT_DB",
    "AntennaIsolation",
    "DuplexIsolation",
    "RequiredSeparation",
    "antenna_isolation",
    "duplex_isolation_found_db",
    "horizontal_isolation_db",
    "required_duplex_isolation",
    "required_horizontal_separation_m",
    "required_separation",
    "required_vertical_separation_m",
    "slant_isolation_db",
    "vertical_isolation_db",
]
