"""Rows of the register made into records of the engine, each object once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

import numpy as np

from licences.life.days import lapses_on, renewal_of
from licences.limits import Allowance
from licences.models import Licence, LicensedChannel
from licences.selectors import Later, later_steps, life_on, policy_of, terms_of
from licences.standing import continues
from sites.geodesy import inverse
from sites.models import AntennaType
from sites.words import gettext_noop
from spectrum.conflicts.network import (
    FAR_FUTURE,
    FAR_PAST,
    AntennaRecord,
    ChannelRecord,
    LicenceRecord,
    LinkRecord,
    ModeRecord,
    PlanRecord,
    StationRecord,
)
from spectrum.conflicts.nominal import nominal_emission, nominal_selectivity
from spectrum.models import ChannelPlan, Link, RadioMask, RadioMode, Station
from spectrum.radio.antennas.gain import OMNIDIRECTIONAL
from spectrum.radio.antennas.pointing import elevation_deg
from spectrum.radio.masks import Mask


class Gatherer:
    """Makes records, each object once."""

    def __init__(self, as_of: dt.date) -> None:
        self.as_of = as_of
        self._later: Later | None = None
        self._antennas: dict[int, AntennaRecord] = {}
        self._plans: dict[int, PlanRecord] = {}
        self._licences: dict[int, LicenceRecord] = {}
        self._channels: dict[int, ChannelRecord] = {}
        self._links: dict[int, LinkRecord] = {}
        masks = {(m.radio_type_id, m.channel_width_hz, m.kind): m for m in RadioMask.objects.all()}
        self.modes = {
            mode.pk: self._mode(mode, masks) for mode in RadioMode.objects.select_related("radio_type")
        }

    def span_hz(self, mode_id: int) -> int:
        """The furthest offset at which a mode emits or listens, in Hz."""
        mode = self.modes[mode_id]
        return (
            int(max(abs(edge) for mask in (mode.emission, mode.selectivity) for edge in mask.span_khz) * 1e3)
            + 1
        )

    def widest_span_hz(self) -> int:
        return max((self.span_hz(mode_id) for mode_id in self.modes), default=0)

    def modes_by_span(self) -> dict[int, list[int]]:
        """The modes of the register by their furthest offset in Hz."""
        result: dict[int, list[int]] = {}
        for mode_id in self.modes:
            result.setdefault(self.span_hz(mode_id), []).append(mode_id)
        return result

    def _mode(self, mode: RadioMode, masks: dict[tuple[int, int, str], RadioMask]) -> ModeRecord:
        radio = mode.radio_type
        missing = []
        made: dict[str, Mask] = {}
        for kind, label, nominal in (
            ("emission", gettext_noop("emission mask"), nominal_emission),
            ("selectivity", gettext_noop("receiver selectivity"), nominal_selectivity),
        ):
            row = masks.get((mode.radio_type_id, mode.channel_width_hz, kind))
            if row is None:
                missing.append(label)
                made[kind] = nominal(mode.channel_width_hz / 1e3)
            else:
                made[kind] = Mask.from_points(row.points)
        return ModeRecord(
            name=f"{radio.name} {mode.label}",
            channel_width_hz=mode.channel_width_hz,
            occupied_bandwidth_hz=mode.occupied_bandwidth_hz,
            emission_designator=mode.emission_designator,
            modulation=mode.modulation,
            noise_figure_db=radio.noise_figure_db,
            tuning_min_mhz=radio.tuning_min_mhz,
            tuning_max_mhz=radio.tuning_max_mhz,
            power_min_dbm=radio.power_min_dbm,
            power_max_dbm=radio.power_max_dbm,
            emission=made["emission"],
            selectivity=made["selectivity"],
            required_ci_db=mode.required_ci_db,
            nominal_masks=tuple(missing),
        )

    def antenna(self, row: AntennaType) -> AntennaRecord:
        if row.pk not in self._antennas:
            self._antennas[row.pk] = AntennaRecord(
                name=row.name,
                pattern=row.pattern,
                gain_dbi=row.gain_dbi,
                frequency_min_mhz=row.frequency_min_mhz,
                frequency_max_mhz=row.frequency_max_mhz,
                cross_polar_discrimination_db=row.cross_polar_discrimination_db,
                diameter_m=row.diameter_m,
                beamwidth_deg=row.beamwidth_deg,
                points=tuple((float(a), float(g)) for a, g in row.pattern_points),
            )
        return self._antennas[row.pk]

    def plan(self, row: ChannelPlan | None) -> PlanRecord | None:
        if row is None:
            return None
        if row.pk not in self._plans:
            self._plans[row.pk] = PlanRecord(
                row.code, row.first_go_hz, row.spacing_hz, row.channel_count, row.duplex_spacing_hz
            )
        return self._plans[row.pk]

    def licence(self, row: Licence) -> LicenceRecord:
        if row.pk not in self._licences:
            if self._later is None:
                self._later = later_steps(self.as_of)
            policy, terms = policy_of(row.authority), terms_of(row)
            life = life_on(row, self.as_of, self._later)
            dates = renewal_of(life, terms)
            self._licences[row.pk] = LicenceRecord(
                id=row.pk,
                name=str(row),
                own=row.holder.own,
                authority=row.authority.code,
                granted_on=life.granted_on,
                in_force_from=life.in_force_from or FAR_FUTURE,
                expires_on=life.expires_on,
                ended_on=life.ended_on,
                ended_how=life.ended_how,
                renewal_filed_on=life.renewal_filed_on,
                let_expire_on=life.let_expire_on,
                bring_into_use_by=life.bring_into_use_by,
                brought_into_use_on=life.brought_into_use_on,
                use_notice_by=life.use_notice_by,
                use_notified_on=life.use_notified_on,
                fee_due_on=life.fee_due_on,
                fee_lapses_on=lapses_on(life, terms),
                renewal_opens_on=dates.window_opens_on if dates else None,
                last_filing_on=dates.last_filing_on if dates else None,
                continues=continues(life, dates),
                unused_after_days=policy.unused_after_days,
                yearly_fee=f"{row.yearly_fee} {row.fee_currency}".strip()
                if row.yearly_fee is not None
                else "",
            )
        return self._licences[row.pk]

    def channel(self, row: LicensedChannel) -> ChannelRecord:
        if row.pk not in self._channels:
            licence = self.licence(row.licence)
            latitude_deg, longitude_deg = row.latitude_deg, row.longitude_deg
            if latitude_deg is None and row.site is not None:
                latitude_deg, longitude_deg = row.site.latitude_deg, row.site.longitude_deg
            self._channels[row.pk] = ChannelRecord(
                id=row.pk,
                name=f"{licence.name}/{row.label}",
                licence=licence,
                allowance=Allowance(
                    frequency_hz=row.frequency_hz,
                    channel_width_hz=row.channel_width_hz,
                    occupied_bandwidth_hz=row.occupied_bandwidth_hz,
                    emission_designators=tuple(row.emission_designators),
                    modulations=tuple(row.modulations),
                    power_limit_dbm=row.power_limit_dbm,
                    power_kind=_power_kind(row),
                    latitude_deg=latitude_deg,
                    longitude_deg=longitude_deg,
                    tolerance_m=row.tolerance_m,
                    area=row.area,
                    antenna_height_max_agl_m=row.antenna_height_max_m,
                    azimuth_deg=row.azimuth_deg,
                    azimuth_tolerance_deg=row.azimuth_tolerance_deg,
                    polarisation=row.polarisation or None,
                ),
                site_id=row.site_id,
                in_force_from=row.in_force_from or licence.in_force_from,
                expires_on=row.expires_on or licence.expires_on,
                ended_on=row.ended_on,
                ended_how=row.ended_how,
            )
        return self._channels[row.pk]

    def link(self, row: Link) -> LinkRecord:
        if row.pk not in self._links:
            self._links[row.pk] = LinkRecord(
                id=row.pk,
                code=row.code,
                kind=row.kind,
                holder=row.holder.name,
                own=row.holder.own,
                status=row.status,
                starts_on=row.starts_on or FAR_PAST,
                ends_on=row.ends_on or FAR_FUTURE,
                reserved_until=row.reserved_until,
                plan=self.plan(row.channel_plan),
                assumptions=row.assumptions,
            )
        return self._links[row.pk]

    def stations(self, rows: Iterable[Station]) -> list[StationRecord]:
        by_link: dict[int, list[Station]] = {}
        for row in rows:
            by_link.setdefault(row.link_id, []).append(row)
        pointing = _pointing([(row, _target(row, ends)) for ends in by_link.values() for row in ends])
        return [self._station(row, *pointing[row.pk]) for ends in by_link.values() for row in ends]

    def _station(self, row: Station, azimuth_deg: float | None, tilt_deg: float) -> StationRecord:
        return StationRecord(
            id=row.pk,
            link=self.link(row.link),
            label=row.label,
            role=row.role,
            site_id=row.site_id,
            site_code=row.site.code,
            latitude_deg=row.site.latitude_deg,
            longitude_deg=row.site.longitude_deg,
            ground_height_m=row.site.ground_height_m,
            antenna_height_agl_m=row.antenna_height_agl_m,
            azimuth_deg=azimuth_deg,
            azimuth_entered=row.azimuth_deg is not None,
            tilt_deg=tilt_deg,
            polarisation=row.polarisation,
            line_losses_db=row.feeder_loss_db + row.duplexer_loss_db,
            environment=row.site.environment,
            antenna=self.antenna(row.antenna_type),
            mode=self.modes[row.mode_id],
            tx_power_dbm=row.tx_power_dbm,
            tx_frequency_hz=row.tx_frequency_hz,
            rx_frequency_hz=row.rx_frequency_hz,
            channel=self.channel(row.licensed_channel) if row.licensed_channel is not None else None,
        )


def _power_kind(row: LicensedChannel) -> Any:
    return str(row.power_kind)


def _target(row: Station, ends: list[Station]) -> Station | None:
    """The station that an antenna points at when no azimuth is entered: the other end, or the hub."""
    if row.role == Station.Role.HUB:
        return None
    if row.role == Station.Role.REMOTE:
        return next((s for s in ends if s.role == Station.Role.HUB), None)
    return next((s for s in ends if s.pk != row.pk), None)


def _pointing(pairs: list[tuple[Station, Station | None]]) -> dict[int, tuple[float | None, float]]:
    """Azimuth and tilt in effect of each station: entered, else toward its target, else none and level.

    An omnidirectional antenna is not aimed: it stands upright unless a tilt is entered.
    """
    result: dict[int, tuple[float | None, float]] = {
        row.pk: (row.azimuth_deg, row.tilt_deg or 0.0) for row, target in pairs if target is None
    }
    aimed = [(row, target) for row, target in pairs if target is not None]
    if not aimed:
        return result
    length_m, azimuth, _ = inverse(
        [row.site.latitude_deg for row, _ in aimed],
        [row.site.longitude_deg for row, _ in aimed],
        [target.site.latitude_deg for _, target in aimed],
        [target.site.longitude_deg for _, target in aimed],
    )
    for (row, target), metres, toward in zip(aimed, length_m, azimuth, strict=True):
        tilt = row.tilt_deg
        if tilt is None:
            tilt = 0.0
            if metres > 0 and row.antenna_type.pattern not in OMNIDIRECTIONAL:
                tilt = float(elevation_deg(metres / 1e3, _height(row), _height(target)))
        pointed = (
            row.azimuth_deg if row.azimuth_deg is not None else (None if np.isnan(toward) else float(toward))
        )
        result[row.pk] = (pointed, tilt)
    return result


def _height(row: Station) -> float:
    return (row.site.ground_height_m or 0.0) + row.antenna_height_agl_m
