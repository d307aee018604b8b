"""Power of a transmitter and what a limit on it means."""

from spectrum.radio.power.limits import (
    LIMIT_KINDS,
    margin_to_limit_db,
    power_as_limited_dbm,
    short_path_eirp_limit_dbw,
)
from spectrum.radio.power.radiated import eirp_dbm, eirp_to_erp_dbm, erp_to_eirp_dbm
from spectrum.radio.power.units import dbm_to_dbw, dbm_to_w, dbw_to_dbm, w_to_dbm

__all__ = [
    "LIMIT_KINDS",
    "dbm_to_dbw",
    "dbm_to_w",
    "dbw_to_dbm",
    "eirp_dbm",
    "eirp_to_erp_dbm",
    "erp_to_eirp_dbm",
    "margin_to_limit_db",
    "power_as_limited_dbm",
    "short_path_eirp_limit_dbw",
    "w_to_dbm",
]
