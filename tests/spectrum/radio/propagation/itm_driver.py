"""Point-to-point driver for the public library itmlogic (NTIA Irregular Terrain Model), for tests only.

The library has the model's subroutines; the order of the calls follows the ITM's own description.
The system height is the mean of the middle 80 % of the profile, as the NTIA's code takes it.
"""

import math

import numpy as np
from itmlogic.misc.qerfi import qerfi
from itmlogic.preparatory_subroutines.qlrpfl import qlrpfl
from itmlogic.preparatory_subroutines.qlrps import qlrps
from itmlogic.statistics.avar import avar


def itm_loss_db(
    terrain_m,
    step_m,
    *,
    height_tx_m,
    height_rx_m,
    frequency_mhz,
    permittivity,
    conductivity,
    refractivity,
    vertical,
    climate,
    mode_of_variability,
    time_percent,
    location_percent,
    situation_percent,
):
    """Basic transmission loss in dB of one profile of equally spaced heights."""
    intervals = len(terrain_m) - 1
    tenth = int(0.1 * intervals)
    system_m = float(np.mean(terrain_m[tenth : intervals - tenth + 1]))
    wave, curvature, surface, ground = qlrps(
        frequency_mhz, system_m, refractivity, int(vertical), permittivity, conductivity
    )
    prop = {
        "pfl": [intervals, step_m, *map(float, terrain_m)],
        "hg": [height_tx_m, height_rx_m],
        "wn": wave,
        "gme": curvature,
        "ens": surface,
        "zgnd": ground,
        "klim": climate,
        "klimx": climate,
        "mdvar": mode_of_variability,
        "mdvarx": mode_of_variability,
        "lvar": 5,
        "kwx": 0,
    }
    prop = qlrpfl(prop)
    free_space = 32.45 + 20.0 * math.log10(frequency_mhz) + 20.0 * math.log10(prop["dist"] / 1000.0)
    quantiles = [qerfi([share / 100.0])[0] for share in (time_percent, location_percent, situation_percent)]
    excess, _ = avar(*quantiles, prop)
    return free_space + excess
