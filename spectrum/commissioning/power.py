"""The output power to set: no higher than planned and than licensed, on one of the radio's steps. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from licences.limits import DIPOLE_GAIN_DBI, Allowance
from sites.templatetags.figures import fixed
from spectrum.conflicts.evidence import GIVEN, SUM, TERM, Row

POWER_KINDS = {"tx_output": "transmitter output", "erp": "e.r.p.", "eirp": "e.i.r.p."}
# Sums of decimal fractions leave a binary residue; it must not cost a step.
_RESIDUE_DB = 1e-9


@dataclass(frozen=True)
class PowerSteps:
    """The output powers that a radio can be set to: from the lowest in steps, up to the highest."""

    lowest_dbm: float
    highest_dbm: float
    step_db: float

    def at_most(self, limit_dbm: float) -> float | None:
        """The highest setting that is not above a limit; None where the lowest is above it already.

        >>> PowerSteps(20.0, 40.0, 3.0).at_most(37.9), PowerSteps(20.0, 40.0, 3.0).at_most(60.0)
        (35.0, 38.0)
        >>> PowerSteps(20.0, 40.0, 3.0).at_most(19.0) is None
        True
        """
        room_db = min(limit_dbm, self.highest_dbm) - self.lowest_dbm
        if room_db < -_RESIDUE_DB:
            return None
        return self.lowest_dbm + math.floor(room_db / self.step_db + _RESIDUE_DB) * self.step_db


@dataclass(frozen=True)
class PowerSetting:
    """The setting (None: none may be set), why in a sentence, and the arithmetic that leads from the licence to it."""

    set_dbm: float | None
    sentence: str
    rows: list[Row] = field(default_factory=list)


def power_setting(
    planned_dbm: float,
    allowed: Allowance | None,
    *,
    line_losses_db: float,
    antenna_gain_dbi: float,
    steps: PowerSteps,
) -> PowerSetting:
    """The highest step that is above neither the plan nor what the licence leaves at the transmitter's output.

    ``allowed`` is what the licensed channel allows; None where the station has none. The limit of the
    licence is brought to the transmitter's output by losses and gain (RR 1.161, 1.162).

    >>> setting = power_setting(
    ...     37.0, Allowance(frequency_hz=410_000_000, channel_width_hz=25_000, power_limit_dbm=38.0, power_kind="erp"),
    ...     line_losses_db=2.0, antenna_gain_dbi=6.0, steps=PowerSteps(20.0, 43.0, 1.0))
    >>> setting.set_dbm
    36.0
    >>> [(row.name, round(row.value, 2)) for row in setting.rows][:5]
    [('Licensed e.r.p.', 38.0), ('Half-wave dipole over isotropic', 2.15), ('Antenna gain, taken off', -6.0), ('Line losses, added', 2.0), ('Output that the licence allows', 36.15)]
    """  # noqa: E501
    if allowed is None:
        return PowerSetting(
            None, f"No licensed channel allows it to transmit (planned: {fixed(planned_dbm, 1)} dBm)."
        )
    if allowed.power_limit_dbm is None:
        return PowerSetting(
            None,
            f"The licensed channel states no power (planned: {fixed(planned_dbm, 1)} dBm). Enter the limit first.",
        )
    terms = [
        Row(f"Licensed {POWER_KINDS[allowed.power_kind]}", allowed.power_limit_dbm, "dBm", "the licensed channel", TERM)
    ]  # fmt: skip
    if allowed.power_kind == "erp":
        terms.append(
            Row("Half-wave dipole over isotropic", DIPOLE_GAIN_DBI, "dB", "RR 1.161, 1.162; 47 CFR 2.1", TERM)
        )
    if allowed.power_kind != "tx_output":
        terms.append(Row("Antenna gain, taken off", -antenna_gain_dbi, "dBi", "the antenna type", TERM))
        terms.append(Row("Line losses, added", line_losses_db, "dB", "feeder and duplexer", TERM))
    licensed_dbm = sum(float(row.value) for row in terms)
    limit_dbm = min(licensed_dbm, planned_dbm)
    rows = [
        *terms,
        Row("Output that the licence allows", licensed_dbm, "dBm", "sum of the above", SUM),
        Row("Output that is planned", planned_dbm, "dBm", "the register", GIVEN),
        Row("Lower of the two", limit_dbm, "dBm", "not to be exceeded", GIVEN),
    ]
    chosen = steps.at_most(limit_dbm)
    grid = (
        f"{fixed(steps.lowest_dbm, 1)} to {fixed(steps.highest_dbm, 1)} dBm in steps of {steps.step_db:g} dB"
    )
    if chosen is None:
        return PowerSetting(
            None,
            f"The radio's lowest power, {fixed(steps.lowest_dbm, 1)} dBm, is above the {fixed(limit_dbm, 2)} dBm "
            "that licence and plan leave. Another radio, or an attenuator that is entered as line loss, is needed.",
            rows,
        )
    rows.append(Row("Highest step of the radio not above it", chosen, "dBm", f"the radio: {grid}", GIVEN))
    why = "the licence" if licensed_dbm < planned_dbm else "the plan"
    return PowerSetting(chosen, f"Rounded down to the radio's steps ({grid}); {why} sets the limit.", rows)
