"""Antennas, radios and channel plans of the demo. Every figure is invented unless its source names a document."""

from __future__ import annotations

import math
from dataclasses import dataclass

from licences.emissions.designator import bandwidth_code
from sites.models import AntennaType
from spectrum.models import ChannelPlan, RadioMask, RadioMode, RadioType
from spectrum.radio.masks.cfr90_210 import emission_mask

INVENTED = "invented for the demo"

_YAGI = [
    [0, 0],
    [10, -0.7],
    [20, -3],
    [30, -7],
    [40, -13],
    [60, -18],
    [90, -20],
    [120, -21],
    [150, -20],
    [180, -18],
]
_LONG_YAGI = [[0, 0], [10, -1.4], [15, -3], [25, -9], [40, -16], [60, -20], [90, -23], [135, -24], [180, -21]]
_SIDE_MOUNTED = [[0, 0], [45, -0.6], [90, -2.2], [135, -4.2], [180, -5.5]]

# name, gain dBi, from MHz, to MHz, cross-polar discrimination dB, pattern, further figures
_ANTENNAS: tuple[tuple[str, float, float, float, float, str, dict[str, object]], ...] = (
    ("Yagi 410, 8 elements", 11.0, 400, 432, 18, "measured", {"pattern_points": _YAGI}),
    ("Yagi 410, 14 elements", 13.5, 400, 432, 20, "measured", {"pattern_points": _LONG_YAGI}),
    ("Yagi 455, 8 elements", 11.0, 448, 472, 18, "measured", {"pattern_points": _YAGI}),
    ("Yagi 455, 14 elements", 13.5, 448, 472, 20, "measured", {"pattern_points": _LONG_YAGI}),
    ("Yagi 160, 5 elements", 8.5, 150, 174, 16, "measured", {"pattern_points": _YAGI}),
    ("Dipole 160, side-mounted", 4.5, 150, 174, 12, "measured", {"pattern_points": _SIDE_MOUNTED}),
    ("Dipole 75, side-mounted", 3.5, 68, 88, 10, "measured", {"pattern_points": _SIDE_MOUNTED}),
    ("Collinear 160", 6.0, 150, 174, 12, "f1336_omni", {}),
    ("Collinear 400–470", 8.0, 400, 470, 12, "f1336_omni", {}),
    ("Panel 120°, 400–470", 11.0, 400, 470, 15, "f1336_sector", {"beamwidth_deg": 120.0}),
    ("Dish 1.2 m, 7 GHz", 36.5, 7100, 7800, 30, "f699", {"diameter_m": 1.2}),
    ("Dish 1.8 m, 7 GHz", 40.0, 7100, 7800, 32, "f1245", {"diameter_m": 1.8}),
)  # fmt: skip


def antennas() -> list[AntennaType]:
    """All antenna types, not saved."""
    return [
        AntennaType(
            name=name,
            gain_dbi=gain,
            frequency_min_mhz=low,
            frequency_max_mhz=high,
            cross_polar_discrimination_db=discrimination,
            pattern=pattern,
            notes=INVENTED.capitalize() + ("; the table, too." if pattern == "measured" else "."),
            **more,
        )
        for name, gain, low, high, discrimination, pattern, more in _ANTENNAS
    ]


@dataclass(frozen=True)
class _Mode:
    """A mode by its modulation: states, symbol rate in kBd, roll-off or deviation in kHz, threshold, C/I, delay."""

    label: str
    width_khz: float
    modulation: str
    states: int
    symbol_rate_kbd: float
    shape: float
    threshold_dbm: float
    required_ci_db: float
    delay_ms: float

    @property
    def is_fsk(self) -> bool:
        return self.modulation.endswith("FSK")

    @property
    def necessary_bandwidth_hz(self) -> float:
        """Bn = 2M + 2DK for FSK (M = half the symbol rate, K = 1.2), 2RK/log2 S with 2K = 1 + roll-off else.

        The forms of RR Appendix 1 and ITU-R SM.1138 (from memory, not verified).
        """
        if self.is_fsk:
            return 1e3 * (self.symbol_rate_kbd + 2.0 * self.shape * 1.2)
        return 1e3 * self.symbol_rate_kbd * (1.0 + self.shape)

    @property
    def designator(self) -> str:
        """Necessary bandwidth and class: F frequency, G phase, D amplitude and phase; one digital channel of data."""
        main = "F" if self.is_fsk else "G" if self.modulation == "QPSK" else "D"
        return f"{bandwidth_code(self.necessary_bandwidth_hz)}{main}1D"

    def row(self, radio: RadioType) -> RadioMode:
        return RadioMode(
            radio_type=radio,
            label=self.label,
            channel_width_hz=round(self.width_khz * 1e3),
            emission_designator=self.designator,
            occupied_bandwidth_hz=round(self.necessary_bandwidth_hz),
            modulation=self.modulation,
            bit_rate_kbps=round(self.symbol_rate_kbd * math.log2(self.states), 3),
            receiver_threshold_dbm=self.threshold_dbm,
            required_ci_db=self.required_ci_db,
            one_way_delay_ms=self.delay_ms,
        )


_N12 = _Mode("12.5 kHz 4-FSK", 12.5, "4-FSK", 4, 4.8, 1.6, -112, 17, 9)
_NARROW = (
    _N12,
    _Mode("12.5 kHz 16-QAM", 12.5, "16-QAM", 16, 8.8, 0.25, -104, 22, 7),
    _Mode("12.5 kHz 64-QAM", 12.5, "64-QAM", 64, 8.8, 0.25, -97, 29, 7),
    _Mode("25 kHz 4-FSK", 25.0, "4-FSK", 4, 9.6, 2.6, -109, 17, 6),
    _Mode("25 kHz 16-QAM", 25.0, "16-QAM", 16, 17.6, 0.25, -101, 22, 5),
)
_WIDER = (
    _Mode("50 kHz 16-QAM", 50.0, "16-QAM", 16, 36.0, 0.25, -98, 22, 4),
    _Mode("200 kHz QPSK", 200.0, "QPSK", 4, 150.0, 0.2, -98, 15, 3),
    _Mode("300 kHz 16-QAM", 300.0, "16-QAM", 16, 225.0, 0.2, -90, 22, 3),
)
_MICROWAVE = (
    _Mode("7 MHz 16-QAM", 7_000.0, "16-QAM", 16, 5_600.0, 0.2, -80, 24, 0.3),
    _Mode("14 MHz 64-QAM", 14_000.0, "64-QAM", 64, 11_400.0, 0.2, -70, 30, 0.3),
)

# Of a radio's data sheet: transmitter noise at the duplex spacing dBc/Hz, blocking level and intercept point dBm
_SHEET = {
    "Ulmet 4": (-150.0, -20.0, 2.0),
    "Ulmet 1": (-150.0, -20.0, 2.0),
    "Ulmet 0": (-150.0, -20.0, 2.0),
    "Tavo 7": (-155.0, -25.0, -5.0),
    "Other party's radio": (None, None, None),
}
# name, tunes from, to MHz, power from, to dBm, noise figure dB, modes
_RADIOS: tuple[tuple[str, float, float, float, float, float, tuple[_Mode, ...]], ...] = (
    ("Ulmet 4", 400, 472, 20, 40, 7, _NARROW + _WIDER),
    ("Ulmet 1", 148, 174, 20, 40, 6, _NARROW),
    ("Ulmet 0", 68, 88, 20, 40, 6, (_N12,)),
    ("Tavo 7", 7100, 7800, 10, 27, 5, _MICROWAVE),
    ("Other party's radio", 100, 480, 10, 50, 8, (_N12, _NARROW[3])),
)  # fmt: skip


def radios() -> tuple[list[RadioType], list[RadioMode], list[RadioMask]]:
    """All radio types with modes and masks, not saved. The other parties' radio has no masks: they are not known."""
    types, modes, masks = [], [], []
    for name, low, high, least, most, figure, its_modes in _RADIOS:
        noise, blocking, intercept = _SHEET[name]
        radio = RadioType(
            name=name,
            tuning_min_mhz=low,
            tuning_max_mhz=high,
            power_min_dbm=least,
            power_max_dbm=most,
            noise_figure_db=figure,
            blocking_level_dbm=blocking,
            transmitter_noise_dbc_per_hz=noise,
            third_order_intercept_dbm=intercept,
            notes=f"{INVENTED.capitalize()}.",
        )
        types.append(radio)
        modes += [mode.row(radio) for mode in its_modes]
        if name != "Other party's radio":
            for width_khz in sorted({mode.width_khz for mode in its_modes}):
                masks += _masks(radio, width_khz, regulated=name == "Ulmet 1" and width_khz == 12.5)
    return types, modes, masks


def _masks(radio: RadioType, width_khz: float, *, regulated: bool) -> list[RadioMask]:
    w = width_khz
    if regulated:
        limit = emission_mask("D", power_w=10.0, reference_bandwidth_khz=0.1, cut_off_khz=4.0 * w)
        emission = [list(point) for point in zip(limit.offset_khz, limit.level_db, strict=True)]
        source = "47 CFR 90.210 (d) used to the full at 10 W; ends at 50 kHz by our own choice"
    else:
        emission = [[0, 0], [0.42 * w, 0], [0.5 * w, -28], [w, -64], [2 * w, -75]]
        source = INVENTED
    selectivity = [[0, 0], [0.44 * w, 0], [0.8 * w, -60], [2 * w, -85]]
    return [
        RadioMask(radio_type=radio, channel_width_hz=round(w * 1e3), kind=kind, points=points, source=where)
        for kind, points, where in (
            (RadioMask.Kind.EMISSION, emission, source),
            (RadioMask.Kind.SELECTIVITY, selectivity, INVENTED),
        )
    ]


# code, name, first go Hz, spacing Hz, channels, duplex spacing Hz
_PLANS = (
    ("U41-25", "Valley 410/420 MHz, 25 kHz", 410_012_500, 25_000, 140, 10_000_000),
    ("U41-300", "Valley 410/420 MHz, 300 kHz", 413_650_000, 300_000, 4, 10_000_000),
    ("U41-12", "Valley 410/420 MHz, 12.5 kHz", 415_006_250, 12_500, 399, 10_000_000),
    ("U45-25", "Valley 450/460 MHz, 25 kHz", 450_012_500, 25_000, 100, 10_000_000),
    ("U45-50", "Valley 450/460 MHz, 50 kHz", 452_525_000, 50_000, 29, 10_000_000),
    ("U45-200", "Valley 450/460 MHz, 200 kHz", 454_100_000, 200_000, 5, 10_000_000),
    ("U45-12", "Valley 450/460 MHz, 12.5 kHz", 455_006_250, 12_500, 399, 10_000_000),
    ("V16-12", "Valley 160 MHz, 12.5 kHz", 158_006_250, 12_500, 160, 4_600_000),
    ("L07-12", "Valley 72 MHz, 12.5 kHz", 72_006_250, 12_500, 40, 5_000_000),
    ("M7-14", "Valley 7 GHz, 14 MHz", 7_184_000_000, 14_000_000, 12, 224_000_000),
)  # fmt: skip


def plans() -> list[ChannelPlan]:
    """All channel plans, not saved."""
    return [
        ChannelPlan(
            code=code,
            name=name,
            first_go_hz=first,
            spacing_hz=spacing,
            channel_width_hz=spacing,
            channel_count=count,
            duplex_spacing_hz=duplex,
            source=INVENTED,
        )
        for code, name, first, spacing, count, duplex in _PLANS
    ]
