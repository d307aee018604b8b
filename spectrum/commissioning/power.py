"""The output power to set: no higher than planned and than licensed, on one of the radio's steps. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from django.utils.translation import gettext, gettext_noop
from django.utils.translation import gettext_lazy as _

from licences.limits import DIPOLE_GAIN_DBI, Allowance
from sites.templatetags.figures import brief, fixed
from spectrum.conflicts.evidence import GIVEN, SUM, TERM, Row

POWER_KINDS = {"tx_output": _("transmitter output"), "erp": "e.r.p.", "eirp": "e.i.r.p."}
# The names of the arithmetic's rows are translated where they are shown.
_LICENSED = {
    "tx_output": gettext_noop("Licensed transmitter output"),
    "erp": gettext_noop("Licensed e.r.p."),
    "eirp": gettext_noop("Licensed e.i.r.p."),
}
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
            None,
            gettext("No licensed channel allows it to transmit (planned: {planned_dbm} dBm).").format(
                planned_dbm=fixed(planned_dbm, 1)
            ),
        )
    if allowed.power_limit_dbm is None:
        return PowerSetting(
            None,
            gettext(
                "The licensed channel states no power (planned: {planned_dbm} dBm). Enter the limit first."
            ).format(planned_dbm=fixed(planned_dbm, 1)),
        )
    terms = [
        Row(
            _LICENSED[allowed.power_kind],
            allowed.power_limit_dbm,
            "dBm",
            gettext_noop("the licensed channel"),
            TERM,
        )
    ]
    if allowed.power_kind == "erp":
        terms.append(
            Row(
                gettext_noop("Half-wave dipole over isotropic"),
                DIPOLE_GAIN_DBI,
                "dB",
                "RR 1.161, 1.162; 47 CFR 2.1",
                TERM,
            )
        )
    if allowed.power_kind != "tx_output":
        terms.append(
            Row(
                gettext_noop("Antenna gain, taken off"),
                -antenna_gain_dbi,
                "dBi",
                gettext_noop("the antenna type"),
                TERM,
            )
        )
        terms.append(
            Row(
                gettext_noop("Line losses, added"),
                line_losses_db,
                "dB",
                gettext_noop("feeder and duplexer"),
                TERM,
            )
        )
    licensed_dbm = sum(float(row.value) for row in terms)
    limit_dbm = min(licensed_dbm, planned_dbm)
    rows = [
        *terms,
        Row(
            gettext_noop("Output that the licence allows"),
            licensed_dbm,
            "dBm",
            gettext_noop("sum of the above"),
            SUM,
        ),
        Row(gettext_noop("Output that is planned"), planned_dbm, "dBm", gettext_noop("the register"), GIVEN),
        Row(gettext_noop("Lower of the two"), limit_dbm, "dBm", gettext_noop("not to be exceeded"), GIVEN),
    ]
    chosen = steps.at_most(limit_dbm)
    grid = gettext("{lowest_dbm} to {highest_dbm} dBm in steps of {step_db} dB").format(
        lowest_dbm=fixed(steps.lowest_dbm, 1),
        highest_dbm=fixed(steps.highest_dbm, 1),
        step_db=brief(steps.step_db),
    )
    if chosen is None:
        return PowerSetting(
            None,
            gettext(
                "The radio's lowest power, {lowest_dbm} dBm, is above the {limit_dbm} dBm that licence and "
                "plan leave. Another radio, or an attenuator that is entered as line loss, is needed."
            ).format(lowest_dbm=fixed(steps.lowest_dbm, 1), limit_dbm=fixed(limit_dbm, 2)),
            rows,
        )
    rows.append(
        Row(
            gettext_noop("Highest step of the radio not above it"),
            chosen,
            "dBm",
            gettext("the radio: {grid}").format(grid=grid),
            GIVEN,
        )
    )
    sentence = (
        gettext("Rounded down to the radio's steps ({grid}); the licence sets the limit.")
        if licensed_dbm < planned_dbm
        else gettext("Rounded down to the radio's steps ({grid}); the plan sets the limit.")
    )
    return PowerSetting(chosen, sentence.format(grid=grid), rows)
