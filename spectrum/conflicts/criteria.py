"""What counts as too much, and the assumptions that stand under every radio figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, overload

import numpy as np
import numpy.typing as npt

from sites.words import gettext_noop as _
from spectrum.radio.interference import i_over_n_for_degradation_db
from spectrum.radio.propagation.p452 import Climate

from .columns import FloatArray, IntArray

MODEL_VERSION = "2026.4"

# 47 CFR 101.105(c): a threshold degradation of 1.0 dB is harmful; that is I/N −5.87 dB.
AGGREGATE_I_OVER_N_DB = float(i_over_n_for_degradation_db(1.0))


@dataclass(frozen=True)
class BandCriterion:
    """What a receiver in a band is protected against.

    The long-term criterion compares one interferer, exceeded for ``long_term_time_percent`` of time,
    with the noise; the aggregate criterion compares the sum of all of them. The short-term one asks
    that the median wanted signal stays above an interferer that is exceeded for only
    ``short_term_time_percent`` by the C/I that the receiver's mode requires.

    I/N −6 dB, 20 % and the short-term rule are common practice after ITU-R F.758 and P.452 (figures
    from memory, not verified); the aggregate follows 47 CFR 101.105(c).
    """

    name: str = "all bands"
    frequency_min_mhz: float = 0.0
    frequency_max_mhz: float = np.inf
    authority: str = ""
    i_over_n_limit_db: float = -6.0
    long_term_time_percent: float = 20.0
    aggregate_i_over_n_limit_db: float = AGGREGATE_I_OVER_N_DB
    short_term_time_percent: float = 0.1
    source: str = _("default: ITU-R F.758 practice (from memory), 47 CFR 101.105(c) for the aggregate")

    def covers(self, frequency_mhz: float, authority: str) -> bool:
        """Whether this is a criterion for a receiver on a frequency, licensed by an authority."""
        in_band = self.frequency_min_mhz <= frequency_mhz <= self.frequency_max_mhz
        return in_band and self.authority in ("", authority)


@dataclass(frozen=True)
class Criteria:
    """The parameters of a check; they are stored with it and shown on its findings.

    Of the ``bands`` that cover a receiver the first counts; :data:`DEFAULT_BAND` where none does.
    """

    bands: tuple[BandCriterion, ...] = ()
    climate: Climate = field(default_factory=Climate)
    # A result this close to the limit is less than the model's spread: a person has to decide.
    decide_within_db: float = 3.0
    # An interferer this far below the single-entry limit is not summed into the aggregate.
    aggregate_depth_db: float = 20.0
    # Beyond this distance no pair is computed (policy; ITU-R P.452 itself has no such limit).
    policy_radius_km: float = 1000.0
    # Antennas on one structure stand at least this far apart (assumed until measured).
    same_site_spacing_m: float = 5.0
    # Positions this close are one site for the radio arithmetic.
    same_site_within_m: float = 50.0
    # Up to here transmitters are taken to block, to mix and to disturb by noise and harmonics.
    near_site_within_m: float = 500.0
    # Isolation that is estimated from spacings is known no better than this; a person decides within it.
    isolation_spread_db: float = 10.0
    reservation_warning_days: int = 14
    bring_into_use_warning_days: int = 90
    fee_warning_days: int = 30
    # Two assignments on one frequency closer than this are the same assignment entered twice.
    same_assignment_within_m: float = 100.0

    def band_of(self, frequency_mhz: float, authority: str) -> BandCriterion:
        """The criterion of a receiver."""
        return next((b for b in self.bands if b.covers(frequency_mhz, authority)), DEFAULT_BAND)

    def as_json(self) -> dict[str, Any]:
        """The parameters as stored with a check."""
        values = {
            **asdict(self),
            "climate": {k: float(np.asarray(v)) for k, v in asdict(self.climate).items()},
        }
        values["bands"] = [_finite(asdict(band)) for band in (*self.bands, DEFAULT_BAND)]
        return values


DEFAULT_BAND = BandCriterion()


class Bands(Sequence[BandCriterion]):
    """The criterion of each station, from a short table of those in use."""

    def __init__(self, table: Sequence[BandCriterion], number: IntArray) -> None:
        self.table, self.number = table, number

    def __len__(self) -> int:
        return len(self.number)

    @overload
    def __getitem__(self, index: int) -> BandCriterion: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[BandCriterion]: ...
    def __getitem__(self, index: int | slice) -> BandCriterion | Sequence[BandCriterion]:
        if isinstance(index, slice):
            return Bands(self.table, self.number[index])
        return self.table[self.number[index]]


@dataclass(frozen=True)
class Limits:
    """The criteria of every station as columns; meaningless where a station does not receive."""

    i_over_n_db: FloatArray
    long_percent: FloatArray
    aggregate_db: FloatArray
    short_percent: FloatArray
    band: Sequence[BandCriterion]


def limits_of(
    frequency_mhz: FloatArray, authorities: Sequence[str] | npt.NDArray[np.str_], criteria: Criteria
) -> Limits:
    """Look up the criterion of each receiver."""
    frequency = np.asarray(frequency_mhz, dtype=np.float64)
    names = np.asarray(authorities, dtype=np.str_)
    table = (*criteria.bands, DEFAULT_BAND)
    number = np.full(len(frequency), len(table) - 1, dtype=np.int64)
    # From the last to the first: the first that covers a receiver is the one that stays.
    for i in range(len(criteria.bands) - 1, -1, -1):
        band = criteria.bands[i]
        covered = (frequency >= band.frequency_min_mhz) & (frequency <= band.frequency_max_mhz)
        if band.authority:
            covered &= names == band.authority
        number[covered] = i

    def column(name: str) -> FloatArray:
        return np.array([getattr(band, name) for band in table], dtype=np.float64)[number]

    return Limits(
        i_over_n_db=column("i_over_n_limit_db"),
        long_percent=column("long_term_time_percent"),
        aggregate_db=column("aggregate_i_over_n_limit_db"),
        short_percent=column("short_term_time_percent"),
        band=Bands(table, number),
    )


def _finite(values: dict[str, Any]) -> dict[str, Any]:
    """JSON has no infinity."""
    return {k: (None if isinstance(v, float) and not np.isfinite(v) else v) for k, v in values.items()}
