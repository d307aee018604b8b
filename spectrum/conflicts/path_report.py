"""One path between two stations, both ways: its profile, levels, margins, and what is missing to judge it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from sites.sentences import joined, sentence
from sites.terrain import TerrainStore
from sites.words import gettext_noop as _
from spectrum.radio.capacity import round_trip_delay_ms
from spectrum.radio.propagation.fresnel import FresnelClearance, fresnel_clearance
from spectrum.radio.propagation.p530 import OutOfRange, fade_exceedance_percent, multipath_occurrence
from spectrum.radio.propagation.profiles import PathProfiles
from spectrum.radio.propagation.smooth_earth import effective_radius_km

from .budget import geometry_of, wanted_levels
from .columns import FloatArray
from .criteria import Criteria, limits_of
from .gaps import gaps_of
from .network import Network, StationRecord
from .path_loss import (
    GREATEST_FREQUENCY_MHZ,
    LEAST_FREQUENCY_MHZ,
    heights_over_lower,
    profile_point_count,
)

CLEARANCE_WANTED: Final = 0.6
"""Share of the first Fresnel radius that a path is wanted to keep clear (common practice, no published source)."""
MOST_OCCURRENCE_PERCENT: Final = 2000.0
"""Up to here :func:`.fade_exceedance_percent` takes p0."""
GROUND_AGREES_WITHIN_M: Final = 20.0
"""Register and terrain may differ by this much at a site before it is said (our choice)."""


@dataclass(frozen=True)
class Fading:
    """What ITU-R P.530-18 reads from its maps for the region: log10 of K, and dN75."""

    log_k: float
    refractivity_gradient_dn75: float


@dataclass(frozen=True)
class Receiver:
    """What a station's mode needs and gives: threshold in dBm, bit rate in kbit/s, delay one way in ms."""

    threshold_dbm: float
    bit_rate_kbps: float
    one_way_delay_ms: float


@dataclass(frozen=True)
class Profile:
    """The path over the effective earth. Arrays have one entry a point; heights in m above the sea.

    ``ground_m`` is raised by the bulge of the effective earth, so that the ray is a straight line;
    ``clutter_m`` stands on it (None: ground cover is not known). ``worst`` is the point with the least
    clearance in units of the first Fresnel radius.
    """

    over_terrain: bool
    effective_radius_km: float
    frequency_mhz: float
    distance_km: FloatArray
    ground_m: FloatArray
    clutter_m: FloatArray | None
    ray_m: FloatArray
    fresnel_radius_m: FloatArray
    worst: int
    worst_clearance_m: float
    worst_ratio: float

    @property
    def worst_at_km(self) -> float:
        return float(self.distance_km[self.worst])

    @property
    def clear(self) -> bool:
        """Whether 0.6 of the first Fresnel zone is free of ground and clutter."""
        return self.worst_ratio >= CLEARANCE_WANTED


@dataclass(frozen=True)
class End:
    """One end of the path: how it looks at the other one, and what it hears from it."""

    station: StationRecord
    azimuth_deg: float | None
    elevation_deg: float | None
    wanted_dbm: float | None
    threshold_dbm: float
    availability_percent: float | None
    availability_why: str

    @property
    def fade_margin_db(self) -> float | None:
        """Wanted level over the receiver's threshold."""
        return None if self.wanted_dbm is None else self.wanted_dbm - self.threshold_dbm


@dataclass(frozen=True)
class PathReport:
    """Everything said about one path. ``loss_model`` says which loss stands behind the levels."""

    length_km: float
    ends: tuple[End, End]
    profile: Profile | None
    loss_model: str
    bit_rate_kbps: float
    round_trip_ms: float
    missing: list[str]


def path_report(
    network: Network,
    receivers: Sequence[Receiver],
    criteria: Criteria,
    terrain: TerrainStore | None,
    fading: Fading | None = None,
) -> PathReport:
    """Report on the path between the two stations of a network.

    Parameters
    ----------
    network : two stations of one link, in the order in which the profile is drawn
    receivers : one for each station
    criteria : for the climate, and for what counts as one site
    terrain : None where there are no tiles
    fading : from the maps of ITU-R P.530-18; None where the installation does not state it

    Raises
    ------
    ValueError
        The network does not hold two stations, or the receivers are not as many.
    """
    if len(network) != 2 or len(receivers) != 2:
        raise ValueError(
            f"A path has two stations and two receivers; {len(network)}, {len(receivers)} given."
        )
    tx, rx = np.array([0]), np.array([1])
    geometry = geometry_of(network, tx, rx, criteria)
    same_site, length_km = bool(geometry.same_site[0]), float(geometry.distance_km[0])
    shape, gap_sentence = (None, "") if same_site else _shape(network, length_km, terrain)
    profile = None
    if shape is None:
        gap_sentence = gap_sentence or _smooth_sentence(same_site)
    if not same_site:
        profile = _profile(network, length_km, shape, criteria)
    obstructed = profile is not None and profile.worst_clearance_m < 0.0
    limits = limits_of(network.rx_hz / 1e6, network.authority, criteria)
    wanted = wanted_levels(network, limits, criteria, terrain, np.flatnonzero(network.rx_hz > 0))
    azimuths = (geometry.tx_azimuth_deg[0], geometry.rx_azimuth_deg[0])
    elevations = (geometry.tx_elevation_deg[0], geometry.rx_elevation_deg[0])
    ends = []
    for n, receiver in enumerate(receivers):
        level = _known(wanted[n])
        margin = None if level is None else level - receiver.threshold_dbm
        available, why = _availability(network, n, length_km, shape, obstructed, margin, fading)
        ends.append(
            End(
                station=network.stations[n],
                azimuth_deg=None if same_site else _known(azimuths[n]),
                elevation_deg=None if same_site else _known(elevations[n]),
                wanted_dbm=level,
                threshold_dbm=receiver.threshold_dbm,
                availability_percent=available,
                availability_why=why,
            )
        )
    return PathReport(
        length_km=length_km,
        ends=(ends[0], ends[1]),
        profile=profile,
        loss_model=_loss_model(network, same_site, shape is not None),
        bit_rate_kbps=min(r.bit_rate_kbps for r in receivers),
        round_trip_ms=float(
            round_trip_delay_ms(sum(r.one_way_delay_ms for r in receivers) / 2.0, 0.0 if same_site else length_km)
        ),
        missing=list(dict.fromkeys([*_missing(network, ends), *([gap_sentence] if gap_sentence else [])]))
        + _ground_differs(network, shape),
    )  # fmt: skip


def _known(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _smooth_sentence(same_site: bool) -> str:
    if same_site:
        return ""
    return _(
        "No terrain tiles are loaded: the earth is taken as smooth at the height of the lower site, and hills "
        "and ground cover are left out."
    )


def _shape(
    network: Network, length_km: float, terrain: TerrainStore | None
) -> tuple[PathProfiles | None, str]:
    """The ground as the path loss takes it, if it is known from end to end; else why it is not."""
    if terrain is None:
        return None, ""
    points = int(profile_point_count(np.float64(length_km)))
    latitude, longitude = network.latitude_deg, network.longitude_deg
    corners = [[latitude[0], longitude[0], latitude[1], longitude[1]]]
    one = terrain.profiles(corners, n_points=points)[0]
    if not one.is_complete:
        unknown = one.missing_fraction + one.void_fraction
        said = sentence(
            # xgettext:no-python-format
            _(
                "The ground is not known on {unknown:.0%} of the path: the earth is taken as smooth at the height "
                "of the lower site, and hills and ground cover are left out."
            ),
            unknown=unknown,
        )
        if not one.missing_tiles:
            return None, said
        tiles = sentence(_("Tiles wanted: {tiles}."), tiles=", ".join(one.missing_tiles))
        return None, joined(" ", [said, tiles])
    clutter = None if one.clutter_height_m is None else np.nan_to_num(one.clutter_height_m)[None, :]
    return PathProfiles(one.distance_m[None, :] / 1e3, one.height_m[None, :], clutter), ""


def _profile(
    network: Network, length_km: float, shape: PathProfiles | None, criteria: Criteria
) -> Profile | None:
    """Ray and Fresnel zone over the ground, at the frequency of the first station; None where it has none."""
    frequency_hz = int(network.tx_hz[0] or network.rx_hz[0])
    if frequency_hz <= 0:
        return None
    heights = network.antenna_height_agl_m
    ground = shape
    if ground is None:
        over = heights_over_lower(network, np.array([0]), np.array([1]))
        heights = np.array([over[0][0], over[1][0]])
        known = bool(network.ground_known.all())
        level = float(network.ground_height_m.min()) if known else 0.0
        count = int(profile_point_count(np.float64(length_km)))
        ground = PathProfiles(np.linspace(0.0, length_km, count)[None, :], np.full((1, count), level))
    radius_km = float(effective_radius_km(criteria.climate.refractivity_lapse_n_per_km))
    found: FresnelClearance = fresnel_clearance(
        ground, frequency_hz / 1e6, heights[:1], heights[1:], radius_km
    )
    clutter = None if ground.clutter_m is None else ground.clutter_m[0]
    worst = int(np.flatnonzero(ground.distance_km[0] == found.least_ratio_at_km[0])[0])
    return Profile(
        over_terrain=shape is not None,
        effective_radius_km=radius_km,
        frequency_mhz=frequency_hz / 1e6,
        distance_km=ground.distance_km[0],
        ground_m=found.obstacle_amsl_m[0] - (0.0 if clutter is None else clutter),
        clutter_m=clutter,
        ray_m=found.ray_amsl_m[0],
        fresnel_radius_m=found.radius_m[0],
        worst=worst,
        worst_clearance_m=float(found.clearance_m[0, worst]),
        worst_ratio=float(found.least_ratio[0]),
    )


def _availability(
    network: Network,
    at: int,
    length_km: float,
    shape: PathProfiles | None,
    obstructed: bool,
    margin_db: float | None,
    fading: Fading | None,
) -> tuple[float | None, str]:
    """Time of the worst month without multipath fades deeper than the margin, or why it is not given."""
    if margin_db is None or margin_db <= 0.0:
        return None, (
            _("The wanted level is not known.")
            if margin_db is None
            else _("The wanted level does not reach the receiver's threshold.")
        )
    if shape is None or obstructed:
        return None, (
            _("ITU-R P.530-18 asks for the mean height of the terrain, which is not known here.")
            if shape is None
            else _("ITU-R P.530-18 is for paths with line of sight; this one is obstructed.")
        )
    amsl = (shape.terrain_m[0, [0, -1]] + network.antenna_height_agl_m).tolist()
    # Whether the method holds depends on neither of the two, so that it can be said without them.
    log_k, dn75 = (fading.log_k, fading.refractivity_gradient_dn75) if fading else (0.0, 1.0)
    found = multipath_occurrence(
        network.rx_hz[at] / 1e6, length_km, amsl[1 - at], amsl[at], shape.terrain_m[0].mean(), log_k, dn75
    )
    reason = OutOfRange(int(found.reason))
    if reason != OutOfRange.NO:
        return None, sentence(_("ITU-R P.530-18 does not hold here. {reason}"), reason=reason.sentence)
    if fading is None:
        return None, _(
            "The geoclimatic factor and dN75 from the maps of ITU-R P.530-18 are not stated in the settings."
        )
    p0 = float(found.occurrence_percent)
    if not 0.0 < p0 <= MOST_OCCURRENCE_PERCENT:
        return None, sentence(
            # xgettext:no-python-format
            _("The multipath occurrence factor is {occurrence:.0f} %; ITU-R P.530-18 goes to 2000 %."),
            occurrence=p0,
        )
    return 100.0 - float(fade_exceedance_percent(p0, margin_db)), ""


def _loss_model(network: Network, same_site: bool, over_terrain: bool) -> str:
    if same_site:
        return _("free space between antennas of one site")
    used = network.tx_hz[network.tx_hz > 0] / 1e6
    if len(used) and ((used < LEAST_FREQUENCY_MHZ) | (used > GREATEST_FREQUENCY_MHZ)).any():
        return _("free space, where ITU-R P.452-18 does not hold")
    if over_terrain:
        # xgettext:no-python-format
        return _("ITU-R P.452-18 over the terrain, 50 % of time")
    # xgettext:no-python-format
    return _("ITU-R P.452-18 over the smooth earth, 50 % of time")


def _missing(network: Network, ends: Sequence[End]) -> list[str]:
    """What a judgement of the path would need and the register does not have."""
    sentences: list[str] = []
    for end, other in zip(ends, reversed(ends), strict=True):
        hearer, sender = end.station, other.station
        sentences += gaps_of(hearer)
        if hearer.rx_frequency_hz is not None and hearer.rx_frequency_hz != sender.tx_frequency_hz:
            said = (
                _(
                    "{receiver} listens on {heard:.5f} MHz and {sender} transmits {sent:.5f} MHz: "
                    "the wanted level is not known."
                )
                if sender.tx_frequency_hz
                else _(
                    "{receiver} listens on {heard:.5f} MHz and {sender} does not transmit: "
                    "the wanted level is not known."
                )
            )
            sentences.append(
                sentence(
                    said,
                    receiver=hearer.name,
                    heard=hearer.rx_frequency_hz / 1e6,
                    sender=sender.name,
                    sent=(sender.tx_frequency_hz or 0) / 1e6,
                )
            )
        if hearer.mode.nominal_masks:
            missing = [sentence(mask) for mask in hearer.mode.nominal_masks]
            both = _("{mode} has no {mask} and no {other}: a nominal one stands in.")
            sentences.append(
                sentence(both, mode=hearer.mode.name, mask=missing[0], other=missing[1])
                if len(missing) > 1
                else sentence(
                    _("{mode} has no {mask}: a nominal one stands in."),
                    mode=hearer.mode.name,
                    mask=missing[0],
                )
            )
    return sentences


def _ground_differs(network: Network, shape: PathProfiles | None) -> list[str]:
    """Sites whose entered ground height is not that of the terrain."""
    if shape is None:
        return []
    sentences: list[str] = []
    for station, height_m in zip(network.stations, shape.terrain_m[0, [0, -1]].tolist(), strict=True):
        entered = station.ground_height_m
        if entered is not None and abs(entered - height_m) > GROUND_AGREES_WITHIN_M:
            sentences.append(
                sentence(
                    _(
                        "{site}: the register has the ground at {entered:.0f} m, the terrain at {height:.0f} m. "
                        "The loss counts with the terrain."
                    ),
                    site=station.site_code,
                    entered=entered,
                    height=height_m,
                )
            )
    return sentences
