"""What stands in where an extract says nothing: radios, antennas, power, height, polarisation."""

from __future__ import annotations

from collections.abc import Mapping as AnyMapping
from typing import Any, TypeVar

from sites.errors import RegisterError
from sites.models import AntennaType, Registered
from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.extracts.entries import Entry
from spectrum.extracts.mapping import Band, Mapping, StandIns
from spectrum.models import RadioMode, RadioType

from .plan import Plan

R = TypeVar("R", bound=Registered)


class Equipment:
    """The radio, mode and antenna of each band: those in the register, or new ones as the mapping describes them."""

    def __init__(self, stand_ins: StandIns, plan: Plan) -> None:
        self.stand_ins, self.plan = stand_ins, plan
        self._of: dict[str, tuple[RadioType, RadioMode, AntennaType]] = {}
        self._antennas: dict[str, AntennaType] = {}
        self._radios: dict[str, RadioType] = {}
        self._modes: dict[tuple[str, str], RadioMode] = {}

    def of(self, band: Band) -> tuple[RadioType, RadioMode, AntennaType]:
        if band.name not in self._of:
            radio = self._radio(band)
            self._of[band.name] = (radio, self._mode(band, radio), self._antenna(band))
        return self._of[band.name]

    @property
    def widths_assumed(self) -> str:
        return "Channel widths are assumed, not in the extract."

    def assumptions(self, entry: Entry, mapping: Mapping) -> str:
        """The sentence that goes onto a link: everything that stands in for what its row does not say."""
        band, columns = entry.band, mapping.columns
        parts = [
            f"radio and mode ({band.radio_type}, {band.mode})",
            f"antennas ({band.antenna_type}, aimed at each other)",
            "no feeder loss",
        ]
        if entry.tx_power_dbm is None:
            parts.append(f"transmitter output {band.tx_power_dbm:g} dBm")
        if entry.tx.antenna_height_agl_m is None or entry.rx.antenna_height_agl_m is None:
            parts.append(f"antenna height {self.stand_ins.antenna_height_agl_m:g} m above ground")
        if entry.polarisation is None:
            parts.append(f"polarisation {self.stand_ins.polarisation}")
        if "emission_designator" not in columns:
            parts.append("emission")
        if entry.channel_width_hz is None:
            parts.append(f"channel width {band.channel_width_khz:g} kHz")
        return f"Assumed, not in the extract: {', '.join(parts)}."

    def _antenna(self, band: Band) -> AntennaType:
        name = band.antenna_type
        if name not in self._antennas:
            stored = AntennaType.objects.filter(name=name).first()
            self._antennas[name] = stored or self._new(
                AntennaType, _named(self.stand_ins.antenna_types, name, band)
            )
        return self._antennas[name]

    def _radio(self, band: Band) -> RadioType:
        name = band.radio_type
        if name not in self._radios:
            stored = RadioType.objects.filter(name=name).first()
            if stored is None:
                described = _named(self.stand_ins.radio_types, name, band)
                stored = self._new(RadioType, {k: v for k, v in described.items() if k != "modes"})
            self._radios[name] = stored
        return self._radios[name]

    def _mode(self, band: Band, radio: RadioType) -> RadioMode:
        key = (band.radio_type, band.mode)
        if key not in self._modes:
            stored = RadioMode.objects.filter(radio_type=radio, label=band.mode).first() if radio.pk else None
            if stored is None:
                modes = _named(self.stand_ins.radio_types, band.radio_type, band).get("modes", [])
                described = next((mode for mode in modes if mode.get("label") == band.mode), None)
                if described is None:
                    raise _missing(
                        sentence(
                            _("the mode {mode} of {radio_type}"),
                            mode=repr(band.mode),
                            radio_type=band.radio_type,
                        ),
                        band,
                    )
                stored = self._new(RadioMode, {**described, "radio_type": radio})
            self._modes[key] = stored
        return self._modes[key]

    def _new(self, model: type[R], values: dict[str, Any]) -> R:
        known = {f.name for f in model._meta.concrete_fields}
        if unknown := sorted(values.keys() - known):
            raise RegisterError(
                sentence(
                    _(
                        "The mapping describes {named} with {unknown}, which {model} does not have; correct "
                        "its name."
                    ),
                    named=values.get("name") or values.get("label"),
                    unknown=repr(unknown[0]),
                    model=model._meta.verbose_name,
                ),
                field="stand_ins",
            )
        return self.plan.enter(model(**values), 0)


def _named(rows: tuple[AnyMapping[str, Any], ...], name: str, band: Band) -> dict[str, Any]:
    found = next((row for row in rows if row.get("name") == name), None)
    if found is None:
        raise _missing(repr(name), band)
    return dict(found)


def _missing(what: str, band: Band) -> RegisterError:
    return RegisterError(
        sentence(
            _(
                "The band {band} of the mapping names {what}, which is neither in the register nor described "
                "in the mapping. Enter it, or describe it under stand_ins."
            ),
            band=band.name,
            what=what,
        ),
        field="stand_ins",
    )
