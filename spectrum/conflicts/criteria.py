"""What counts as too much, and the assumptions that stand under every radio figure."""

from __future__ import annotations

from dataclasses import asdict, dataclass

MODEL_VERSION = "2026.1"


@dataclass(frozen=True)
class Criteria:
    """The parameters of a check; they are stored with it and shown on its findings.

    ``i_over_n_limit_db`` −6 dB is the usual single-entry criterion of the fixed service (common
    practice after ITU-R F.758, figure from memory, not verified): the receiver's threshold moves by 0.97 dB.
    """

    i_over_n_limit_db: float = -6.0
    # A result this close to the limit is less than the model's spread: a person has to decide.
    decide_within_db: float = 3.0
    # 4/3 of 6371 km: the median effective earth radius of ITU-R P.310 and P.452.
    effective_radius_km: float = 6371.0 * 4.0 / 3.0
    # Antennas on one structure stand at least this far apart (assumed until measured).
    same_site_spacing_m: float = 5.0
    # Positions this close are one site for the radio arithmetic.
    same_site_within_m: float = 50.0
    reservation_warning_days: int = 14
    bring_into_use_warning_days: int = 90
    # Two assignments on one frequency closer than this are the same assignment entered twice.
    same_assignment_within_m: float = 100.0

    def as_json(self) -> dict[str, float]:
        return asdict(self)
