"""The one crossing between the register's rows and the engine's records."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from django.conf import settings
from django.db.models import Q, QuerySet

from licences.life.days import lapses_on, renewal_of
from licences.limits import Allowance
from licences.models import Licence, LicensedChannel
from licences.selectors import Later, later_steps, life_on, policy_of, terms_of
from sites.geodesy import inverse
from sites.models import AntennaType
from sites.terrain import TerrainStore, shared_store
from spectrum.models import ChannelPlan, Link, ProtectionCriterion, RadioMask, RadioMode, Station
from spectrum.radio.antennas.pointing import elevation_deg
from spectrum.radio.masks import Mask
from spectrum.radio.propagation.p452 import Climate

from .criteria import BandCriterion, Criteria
from .network import (
    FAR_FUTURE,
    FAR_PAST,
    AntennaRecord,
    ChannelRecord,
    LicenceRecord,
    LinkRecord,
    ModeRecord,
    Network,
    PlanRecord,
    StationRecord,
)
from .nominal import nominal_emission, nominal_selectivity


def whole_network(as_of: dt.date) -> Network:
    """All live links, all licences and licensed channels, as they stand on a date."""
    gatherer = _Gatherer(as_of)
    stations = gatherer.stations(_live(as_of))
    licences = [
        gatherer.licence(row) for row in Licence.objects.select_related("authority__renewal_policy", "holder")
    ]
    channels = [gatherer.channel(row) for row in _channels()]
    return Network(as_of=as_of, stations=stations, licences=licences, channels=channels)


def around_link(link: Link, as_of: dt.date, also_victims: Collection[int] = ()) -> Network:
    """One link, every live station whose masks could share a frequency with it, and their interferers.

    The frequency window is the widest mask in the register on either side, so it leaves out nothing
    that could matter; it is opened twice, because the sum at a victim needs the victim's other
    interferers too. ``also_victims`` are links whose receivers are wanted with all their interferers.
    """
    gatherer = _Gatherer(as_of)
    ends = list(link.stations.all())
    window = 2 * gatherer.widest_span_hz()
    extra = Station.objects.filter(link_id__in=also_victims, rx_frequency_hz__isnull=False)
    heard = {e.rx_frequency_hz for e in ends if e.rx_frequency_hz is not None}
    heard |= {hertz for hertz in extra.values_list("rx_frequency_hz", flat=True) if hertz is not None}
    near = Q(link=link) | Q(link_id__in=also_victims)
    for hertz in heard:
        near |= Q(tx_frequency_hz__range=(hertz - window, hertz + window))
    for hertz in {e.tx_frequency_hz for e in ends if e.tx_frequency_hz is not None}:
        near |= Q(rx_frequency_hz__range=(hertz - window, hertz + window))
        near |= Q(tx_frequency_hz__range=(hertz - 2 * window, hertz + 2 * window))
    near |= Q(licensed_channel__in=[e.licensed_channel_id for e in ends if e.licensed_channel_id is not None])
    # The other ends of neighbours give them their pointing; links are therefore taken whole.
    links = set(_live(as_of).filter(near).values_list("link_id", flat=True)) | {link.pk}
    stations = gatherer.stations(_live(as_of).filter(link_id__in=links))
    channels = {s.channel.id: s.channel for s in stations if s.channel is not None and s.link.id == link.pk}
    licences = {c.licence.id: c.licence for c in channels.values()}
    return Network(
        as_of=as_of, stations=stations, licences=list(licences.values()), channels=list(channels.values())
    )


def with_same_channels(link: Link, as_of: dt.date) -> Network:
    """One link, and the links that rely on the same licensed channels, with the papers of the first."""
    gatherer = _Gatherer(as_of)
    licensed = link.stations.filter(licensed_channel__isnull=False).values("licensed_channel_id")
    same = _live(as_of).filter(licensed_channel__in=licensed).order_by().values_list("link_id", flat=True)
    stations = gatherer.stations(_live(as_of).filter(link_id__in={link.pk, *same}))
    channels = {s.channel.id: s.channel for s in stations if s.channel is not None and s.link.id == link.pk}
    licences = {c.licence.id: c.licence for c in channels.values()}
    return Network(
        as_of=as_of, stations=stations, licences=list(licences.values()), channels=list(channels.values())
    )


def links_near(
    ranges_hz: Collection[tuple[int, int]],
    modes: Collection[int],
    positions: Collection[tuple[float, float]],
    as_of: dt.date,
) -> list[int]:
    """Live links that could share a frequency with one of ``modes`` (keys) in a range, or stand near a position."""
    gatherer = _Gatherer(as_of)
    own_hz = max(gatherer.span_hz(mode) for mode in modes)
    near = Q(pk__in=[])
    for span_hz, others in gatherer.modes_by_span().items():
        for low, high in ranges_hz:
            window = (low - own_hz - span_hz, high + own_hz + span_hz)
            near |= Q(mode__in=others) & (Q(tx_frequency_hz__range=window) | Q(rx_frequency_hz__range=window))
    for latitude_deg, longitude_deg in positions:
        # A window for the index; who stands within the site distance is decided by the distance.
        wide = min(0.01 / max(np.cos(np.radians(latitude_deg)), 1e-6), 180.0)
        near |= Q(
            site__latitude_deg__range=(latitude_deg - 0.01, latitude_deg + 0.01),
            site__longitude_deg__range=(longitude_deg - wide, longitude_deg + wide),
        )
    stations = _live(as_of).select_related(None).filter(near).order_by()
    return sorted(set(stations.values_list("link_id", flat=True)))


def unused_channels(ranges_hz: Collection[tuple[int, int]], as_of: dt.date) -> list[ChannelRecord]:
    """Our own licensed channels in the ranges that no live link uses and whose last day is not past."""
    gatherer = _Gatherer(as_of)
    licensed = Q(pk__in=[])
    for low, high in ranges_hz:
        licensed |= Q(frequency_hz__range=(low, high))
    used = _live(as_of).filter(licensed_channel__isnull=False).order_by().values("licensed_channel_id")
    rows = _channels().filter(licensed, licence__holder__own=True).exclude(pk__in=used)
    channels = [gatherer.channel(row) for row in rows]
    return [c for c in channels if c.last_day >= as_of]


@dataclass(frozen=True)
class Shared:
    """What many stations share, by its key in the register."""

    antennas: dict[int, AntennaRecord]
    modes: dict[int, ModeRecord]
    plans: dict[int, PlanRecord]


def shared_in_force() -> Shared:
    """Every antenna type, mode and channel plan of the register."""
    gatherer = _Gatherer(FAR_PAST)
    plans = {row.pk: gatherer.plan(row) for row in ChannelPlan.objects.all()}
    return Shared(
        antennas={row.pk: gatherer.antenna(row) for row in AntennaType.objects.order_by("pk")},
        modes=dict(sorted(gatherer.modes.items())),
        plans={key: plan for key, plan in plans.items() if plan is not None},
    )


def criteria_in_force() -> Criteria:
    """The criteria of the register: the authority's own first, then the narrower band."""
    rows = ProtectionCriterion.objects.select_related("authority")
    bands = [
        BandCriterion(
            name=row.name,
            frequency_min_mhz=row.frequency_min_mhz,
            frequency_max_mhz=row.frequency_max_mhz,
            authority=row.authority.code if row.authority else "",
            i_over_n_limit_db=row.i_over_n_limit_db,
            long_term_time_percent=row.long_term_time_percent,
            aggregate_i_over_n_limit_db=row.aggregate_i_over_n_limit_db,
            short_term_time_percent=row.short_term_time_percent,
            source=row.source,
        )
        for row in rows
    ]
    bands.sort(key=lambda b: (b.authority == "", b.frequency_max_mhz - b.frequency_min_mhz, b.name))
    return Criteria(
        bands=tuple(bands), climate=Climate(**settings.RADIO_CLIMATE), **settings.SITE_DISTANCES_M
    )


def antenna_records() -> list[AntennaRecord]:
    """Every antenna type of the register, by name."""
    gatherer = _Gatherer(dt.date.min)
    return [gatherer.antenna(row) for row in AntennaType.objects.order_by("name")]


def terrain_in_force() -> TerrainStore | None:
    """The terrain tiles of the installation, if a folder of them is set and holds any."""
    folder = Path(settings.TERRAIN_DIR) if settings.TERRAIN_DIR else None
    if folder is None or not folder.is_dir():
        return None
    return shared_store(folder)


def drafted_network(links: Iterable[tuple[Link, Sequence[Station]]], as_of: dt.date) -> Network:
    """Links that are not in the register yet, to try frequencies before anything is written.

    What the stations name (sites, antenna and radio types, plans, holders) must be stored. Links and
    stations are numbered from 1 in the order given, for the time of this call only.
    """
    rows: list[Station] = []
    for number, (link, stations) in enumerate(links, start=1):
        link.pk = number
        for station in stations:
            station.link = link
            station.pk = len(rows) + 1
            rows.append(station)
    try:
        return Network(as_of=as_of, stations=_Gatherer(as_of).stations(rows))
    finally:
        for station in rows:
            station.pk = station.link.pk = None
            station.link_id = None  # type: ignore[assignment]  # as before it was numbered


def as_drafted(stations: Sequence[Station], as_of: dt.date) -> list[StationRecord]:
    """The stations of one link as they are entered, stored or not; the rows themselves are left alone."""
    rows = [copy.copy(station) for station in stations]
    for number, row in enumerate(rows, start=1):
        row.pk = number
    return _Gatherer(as_of).stations(rows)


def links_whole(links: Collection[int], as_of: dt.date) -> Network:
    """The live ones among some links, each with all its stations."""
    return Network(as_of=as_of, stations=_Gatherer(as_of).stations(_live(as_of).filter(link_id__in=links)))


def links_between(first: int, last: int, as_of: dt.date) -> Network:
    """The live links whose keys go from ``first`` to below ``last``, each with all its stations."""
    rows = _live(as_of).filter(link_id__gte=first, link_id__lt=last)
    return Network(as_of=as_of, stations=_Gatherer(as_of).stations(rows))


def all_licences(as_of: dt.date) -> Network:
    """All licences and licensed channels, with the live stations that name one."""
    gatherer = _Gatherer(as_of)
    stations = gatherer.stations(_live(as_of).filter(licensed_channel__isnull=False))
    licences = [
        gatherer.licence(row) for row in Licence.objects.select_related("authority__renewal_policy", "holder")
    ]
    channels = [gatherer.channel(row) for row in _channels()]
    return Network(as_of=as_of, stations=stations, licences=licences, channels=channels)


def one_link(link: Link, as_of: dt.date) -> Network:
    """A link alone, for its own geometry and its licence comparison."""
    return Network(as_of=as_of, stations=_Gatherer(as_of).stations(_all_stations().filter(link=link)))


def _all_stations() -> QuerySet[Station]:
    return Station.objects.select_related(
        "link__holder",
        "link__channel_plan",
        "site",
        "antenna_type",
        "licensed_channel__licence__authority__renewal_policy",
        "licensed_channel__licence__holder",
        "licensed_channel__site",
    ).order_by("link_id", "label")


def _live(as_of: dt.date) -> QuerySet[Station]:
    """Stations of links that are or will be live on or after a date."""
    return _all_stations().filter(
        Q(link__status__in=Link.LIVE) & (Q(link__ends_on__isnull=True) | Q(link__ends_on__gte=as_of))
    )


def _channels() -> QuerySet[LicensedChannel]:
    return LicensedChannel.objects.select_related(
        "licence__authority__renewal_policy", "licence__holder", "site"
    )


class _Gatherer:
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
            ("emission", "emission mask", nominal_emission),
            ("selectivity", "receiver selectivity", nominal_selectivity),
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
    """Azimuth and tilt in effect of each station: entered, else toward its target, else none and level."""
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
            if metres > 0:
                tilt = float(elevation_deg(metres / 1e3, _height(row), _height(target)))
        pointed = (
            row.azimuth_deg if row.azimuth_deg is not None else (None if np.isnan(toward) else float(toward))
        )
        result[row.pk] = (pointed, tilt)
    return result


def _height(row: Station) -> float:
    return (row.site.ground_height_m or 0.0) + row.antenna_height_agl_m
