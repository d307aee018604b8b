"""ITU-R P.452-18: interference between stations on the surface of the earth, 0.1 to 50 GHz."""

from spectrum.radio.propagation.p452.climate import Climate
from spectrum.radio.propagation.p452.model import basic_transmission_loss
from spectrum.radio.propagation.p452.position import path_centre_latitude_deg
from spectrum.radio.propagation.p452.result import P452Result
from spectrum.radio.propagation.p452.smooth import smooth_earth_loss
from spectrum.radio.propagation.profiles import COASTAL_LAND, INLAND, SEA, PathProfiles

__all__ = [
    "COASTAL_LAND",
    "INLAND",
    "SEA",
    "Climate",
    "P452Result",
    "PathProfiles",
    "basic_transmission_loss",
    "path_centre_latitude_deg",
    "smooth_earth_loss",
]
