"""Necessary bandwidth by the formulas of ITU-R SM.1138, as repeated in 47 CFR 2.202(g).

One function per formula of the table. Symbols as there: B digital symbol rate in baud, R bit rate in
bit/s, S number of signal states, M greatest modulation frequency, D peak deviation (half the
difference between the extreme instantaneous frequencies), C sub-carrier frequency, K a number for the
allowable signal distortion. Scalars or arrays in, the same out; NaN in, NaN out.
"""

from licences.emissions.necessary_bandwidth.amplitude import (
    double_sideband_hz,
    independent_sidebands_hz,
    keyed_carrier_hz,
    keyed_tone_hz,
    single_sideband_hz,
    television_relay_hz,
)
from licences.emissions.necessary_bandwidth.angle import (
    frequency_modulated_subcarrier_hz,
    frequency_modulation_hz,
    pulse_hz,
)
from licences.emissions.necessary_bandwidth.digital import (
    binary_frequency_shift_keying_hz,
    minimum_shift_keying_hz,
    multilevel_frequency_shift_keying_hz,
    phase_shift_keying_hz,
    quadrature_amplitude_modulation_hz,
)

__all__ = [
    "binary_frequency_shift_keying_hz",
    "double_sideband_hz",
    "frequency_modulated_subcarrier_hz",
    "frequency_modulation_hz",
    "independent_sidebands_hz",
    "keyed_carrier_hz",
    "keyed_tone_hz",
    "minimum_shift_keying_hz",
    "multilevel_frequency_shift_keying_hz",
    "phase_shift_keying_hz",
    "pulse_hz",
    "quadrature_amplitude_modulation_hz",
    "single_sideband_hz",
    "television_relay_hz",
]
