"""Who points where: interferers, victim and the other ends of their links on paper, north up.

Angles written at the arcs are those of the budget, elevation and tilt included; the arcs themselves lie in the
plan, from the antenna's boresight to the direction of the other station.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from sites.words import gettext, ngettext
from spectrum.conflicts.antenna_gain import gain_dbi, is_omnidirectional
from spectrum.conflicts.interferers import Interferer
from spectrum.conflicts.network import StationRecord

from .labels import LETTER, Box, Placed, Points, Words, along, place
from .local_plane import LocalPlane
from .steps import round_step

WIDTH: Final = 560.0
SIDE, TOP, BOTTOM = 112.0, 62.0, 84.0
LEAST_HEIGHT, MOST_HEIGHT = 290.0, 500.0
#: Other ends further away than this many times the size of the conflict itself are shown by a line to the frame.
FAR: Final = 5.0
#: The full gain of an antenna, and how far one this many dB below it still reaches.
BEAM, BEAM_DEPTH_DB = 44.0, 30.0
BORESIGHT, ARC = 58.0, 26.0
#: So many other ends of one link are drawn, the nearest.
ENDS: Final = 3
_STATION: Final = 5.5


@dataclass(frozen=True)
class Spot:
    """One place: where it lies and what stands there (interferer, victim, both, other)."""

    x: float
    y: float
    kind: str


@dataclass(frozen=True)
class Arc:
    """The angle between an antenna's boresight and the direction of the other station."""

    path: str
    degrees: float


@dataclass(frozen=True)
class ConflictMap:
    """The picture: SVG paths and words. ``more`` says in a sentence what is left out."""

    height: float
    spots: list[Spot]
    beams: list[str]
    boresights: list[str]
    wanted: list[str]
    unwanted: list[str]
    arcs: list[Arc]
    words: list[Placed]
    scale: tuple[float, float, str]
    more: list[str] = field(default_factory=list)

    @property
    def scale_y(self) -> float:
        return round(self.height - 18.0, 1)

    @property
    def scale_text_x(self) -> float:
        return round(self.scale[0] + self.scale[1] + 8.0, 1)

    @property
    def scale_text_y(self) -> float:
        return round(self.height - 10.0, 1)


def conflict_map(strongest: Sequence[Interferer], ends: Sequence[StationRecord]) -> ConflictMap | None:
    """Draw interferers, their victim, and the other ends of the links concerned; None where all is at one site.

    ``ends`` are all stations of these links; those that take part in the conflict may be among them.
    """
    apart = [one for one in strongest if not one.same_site]
    if not apart:
        return None
    return _Drawing(apart, ends).picture()


class _Drawing:
    def __init__(self, apart: Sequence[Interferer], ends: Sequence[StationRecord]) -> None:
        self.apart, self.victim = apart, apart[0].victim
        core = {s.id: s for one in apart for s in (one.sender, one.victim)}
        self.core = list(core.values())
        self.partners, self.more = self._partners(core, ends)
        self.plane = LocalPlane.around([(s.latitude_deg, s.longitude_deg) for s in self.core])
        at = {s.id: self.plane.km(s.latitude_deg, s.longitude_deg) for s in (*self.core, *self.others())}
        inner = [at[s.id] for s in self.core]
        size = max(_extent(inner), 1e-4)
        near = [at[s.id] for s in self.others() if _extent([*inner, at[s.id]]) <= FAR * size]
        self._fit([*inner, *near])
        self.at = {number: self._paper(*km) for number, km in at.items()}
        self.turned_deg = {s.id: self.plane.turned_deg(s.latitude_deg, s.longitude_deg) for s in self.core}

    def _partners(
        self, core: dict[int, StationRecord], ends: Sequence[StationRecord]
    ) -> tuple[dict[int, list[StationRecord]], list[str]]:
        """The other ends of every station of the conflict, the nearest first, and what is left out."""
        result, more = {}, []
        for station in core.values():
            others = [
                s
                for s in ends
                if s.link.id == station.link.id
                and s.id != station.id
                and not (s.role == "remote" and station.role == "remote")
            ]
            others.sort(key=lambda s: _near(station, s))
            result[station.id] = others[:ENDS]
            left_out = len(others) - ENDS
            if left_out > 0:
                more.append(
                    ngettext(
                        "{count} further station is on {link}; the nearest {drawn} are drawn.",
                        "{count} further stations are on {link}; the nearest {drawn} are drawn.",
                        left_out,
                    ).format(count=left_out, link=station.link.code, drawn=ENDS)
                )
        return result, list(dict.fromkeys(more))

    def others(self) -> list[StationRecord]:
        core = {s.id for s in self.core}
        found = {s.id: s for stations in self.partners.values() for s in stations}
        return [s for s in found.values() if s.id not in core]

    def _fit(self, km: Sequence[tuple[float, float]]) -> None:
        """Scale and height of the picture, so that these places fit between its margins."""
        east, north = [p[0] for p in km], [p[1] for p in km]
        across, up = max(east) - min(east), max(north) - min(north)
        room = WIDTH - 2 * SIDE
        per_km = room / max(across, 1e-4)
        most = MOST_HEIGHT - TOP - BOTTOM
        if up * per_km > most:
            per_km = most / up
        self.per_km = per_km
        self.height = round(max(LEAST_HEIGHT, up * per_km + TOP + BOTTOM), 1)
        self.east, self.north = (max(east) + min(east)) / 2, (max(north) + min(north)) / 2

    def _paper(self, east: float, north: float) -> tuple[float, float]:
        x = WIDTH / 2 + (east - self.east) * self.per_km
        y = TOP + (self.height - TOP - BOTTOM) / 2 - (north - self.north) * self.per_km
        return round(x, 1), round(y, 1)

    def picture(self) -> ConflictMap:
        drawn: list[Points] = []
        boresights = [self._boresight(s, drawn) for s in self.core if _points(s)]
        unwanted = [self._line(one.sender, one.victim, drawn, arrow=True) for one in self.apart]
        wanted, at_edge = self._wanted(drawn)
        beams = [self._beam(one) for one in self._beam_owners()]
        arcs, degrees = self._arcs(drawn)
        scale = self._scale()
        keep_off = [Box(x - 11, y - 11, x + 11, y + 11) for x, y in self._spots()]
        keep_off.append(
            Box(0.0, self.height - 30.0, scale[0] + scale[1] + len(scale[2]) * LETTER + 12.0, self.height)
        )
        keep_off.append(Box(WIDTH - 34.0, 0.0, WIDTH, 46.0))
        names = [*self._names(), *degrees, *self._lengths(), *at_edge]
        lines = np.concatenate(drawn) if drawn else np.zeros((0, 2))
        words = place(names, Box(2.0, 2.0, WIDTH - 2.0, self.height - 4.0), lines, keep_off)
        return ConflictMap(
            height=self.height, spots=[Spot(*xy, kind) for xy, kind in self._spots().items()], beams=beams,
            boresights=boresights, wanted=wanted, unwanted=unwanted, arcs=arcs, words=words, scale=scale, more=self.more,
        )  # fmt: skip

    def _spots(self) -> dict[tuple[float, float], str]:
        """Places inside the frame; stations at one place are one spot."""
        kinds: dict[tuple[float, float], set[str]] = {}
        senders = {one.sender.id for one in self.apart}
        for s in (*self.core, *self.others()):
            if not self._inside(*self.at[s.id]):
                continue
            kind = "victim" if s.id == self.victim.id else "interferer" if s.id in senders else "other"
            kinds.setdefault(self.at[s.id], set()).add(kind)
        return {
            xy: "both"
            if {"victim", "interferer"} <= said
            else min(said, key=("victim", "interferer", "other").index)
            for xy, said in kinds.items()
        }

    def _inside(self, x: float, y: float) -> bool:
        return 0.0 <= x <= WIDTH and 0.0 <= y <= self.height - 20.0

    def _names(self) -> Iterator[Words]:
        """One label for each place: its code and the stations that stand there, those of the conflict first."""
        at: dict[tuple[float, float], list[StationRecord]] = {}
        for s in (*self.core, *self.others()):
            if self._inside(*self.at[s.id]):
                at.setdefault(self.at[s.id], []).append(s)
        core = {s.id for s in self.core}
        for (x, y), stations in at.items():
            names = [s.name for s in stations[:4]]
            codes = list(dict.fromkeys(s.site_code for s in stations))
            concerned = any(s.id in core for s in stations)
            lines = (" ".join(codes[:2]), *names)
            yield Words(x, y, lines, gap=12.0, kind="named" if concerned else "other")

    def _line(self, one: StationRecord, other: StationRecord, drawn: list[Points], *, arrow: bool) -> str:
        (x1, y1), (x2, y2) = self.at[one.id], self.at[other.id]
        drawn.append(along(x1, y1, x2, y2))
        path = f"M{x1} {y1}L{x2} {y2}"
        if not arrow:
            return path
        angle = math.atan2(y2 - y1, x2 - x1)
        tip = (x2 - 8.0 * math.cos(angle), y2 - 8.0 * math.sin(angle))
        return path + _arrow_head(*tip, angle)

    def _wanted(self, drawn: list[Points]) -> tuple[list[str], list[Words]]:
        """Lines between the ends of links; an end outside the frame is named where its line leaves."""
        lines: dict[frozenset[int], str] = {}
        words = []
        for station in self.core:
            for other in self.partners[station.id]:
                pair = frozenset((station.id, other.id))
                if pair in lines or self.at[station.id] == self.at[other.id]:
                    continue
                (x1, y1), (x2, y2) = self.at[station.id], self.at[other.id]
                part = _to_frame(x1, y1, x2, y2, Box(14.0, 14.0, WIDTH - 14.0, self.height - 34.0))
                x, y = x1 + (x2 - x1) * part, y1 + (y2 - y1) * part
                drawn.append(along(x1, y1, x, y))
                lines[pair] = f"M{x1} {y1}L{x:.1f} {y:.1f}"
                if part < 1.0:
                    far = math.hypot(x2 - x1, y2 - y1) / self.per_km
                    words.append(
                        Words(
                            x,
                            y,
                            (gettext("to {site}").format(site=other.site_code), f"{far:.1f} km"),
                            gap=3.0,
                            kind="other",
                        )
                    )
        return list(lines.values()), words

    def _boresight(self, s: StationRecord, drawn: list[Points]) -> str:
        x, y = self.at[s.id]
        angle = self._paper_angle(s, float(s.azimuth_deg or 0.0))
        tip = (x + BORESIGHT * math.cos(angle), y + BORESIGHT * math.sin(angle))
        drawn.append(along(x, y, *tip))
        return f"M{x} {y}L{tip[0]:.1f} {tip[1]:.1f}" + _arrow_head(*tip, angle)

    def _paper_angle(self, s: StationRecord, azimuth_deg: float) -> float:
        """Direction on paper, radians clockwise from the right, of an azimuth at a station."""
        return math.radians(azimuth_deg + self.turned_deg[s.id] - 90.0)

    def _beam_owners(self) -> Iterator[tuple[StationRecord, float, float]]:
        """Each antenna of the conflict once: station, elevation of the other station, frequency in MHz."""
        for one in self.apart:
            yield one.sender, one.sender_elevation_deg, (one.sender.tx_frequency_hz or 0) / 1e6
        first = self.apart[0]
        yield first.victim, first.victim_elevation_deg, (first.sender.tx_frequency_hz or 0) / 1e6

    def _beam(self, owner: tuple[StationRecord, float, float]) -> str:
        """The antenna's gain all round at that elevation, as a distance from the station."""
        s, elevation, mhz = owner
        x, y = self.at[s.id]
        azimuth = np.arange(0.0, 360.0, 3.0)
        boresight = np.full(azimuth.size, np.nan if s.azimuth_deg is None else s.azimuth_deg)
        gain = gain_dbi(
            s.antenna, boresight, np.full(azimuth.size, s.tilt_deg), azimuth,
            np.full(azimuth.size, elevation), np.full(azimuth.size, mhz),
        )  # fmt: skip
        radius = BEAM * np.clip(1.0 + (gain - s.antenna.gain_dbi) / BEAM_DEPTH_DB, 0.12, 1.0)
        angle = [self._paper_angle(s, float(a)) for a in azimuth]
        points = zip(x + radius * np.cos(angle), y + radius * np.sin(angle), strict=True)
        return "M" + "L".join(f"{a:.1f} {b:.1f}" for a, b in points) + "Z"

    def _arcs(self, drawn: list[Points]) -> tuple[list[Arc], list[Words]]:
        arcs, words = [], []
        for number, one in enumerate(self.apart):
            for s, toward, degrees, radius in (
                (one.sender, one.azimuth_deg, one.sender_off_axis_deg, ARC),
                (one.victim, one.back_azimuth_deg, one.victim_off_axis_deg, ARC + 9.0 * number),
            ):
                if not _points(s) or np.isnan(degrees) or np.isnan(toward):
                    continue
                x, y = self.at[s.id]
                start = self._paper_angle(s, float(s.azimuth_deg or 0.0))
                turn = math.radians((toward - float(s.azimuth_deg or 0.0) + 180.0) % 360.0 - 180.0)
                ends = [(x + radius * math.cos(a), y + radius * math.sin(a)) for a in (start, start + turn)]
                sweep = 1 if turn > 0 else 0
                path = f"M{ends[0][0]:.1f} {ends[0][1]:.1f}A{radius:g} {radius:g} 0 0 {sweep} {ends[1][0]:.1f} {ends[1][1]:.1f}"
                arcs.append(Arc(path, degrees))
                steps = start + turn * np.linspace(0.0, 1.0, 24)
                drawn.append(np.column_stack([x + radius * np.cos(steps), y + radius * np.sin(steps)]))
                middle = start + turn / 2
                words.append(
                    Words(
                        x + radius * math.cos(middle),
                        y + radius * math.sin(middle),
                        (f"{degrees:.1f}°",),
                        4.0,
                        "angle",
                    )
                )
        return arcs, words

    def _lengths(self) -> Iterator[Words]:
        for one in self.apart:
            (x1, y1), (x2, y2) = self.at[one.sender.id], self.at[one.victim.id]
            yield Words((x1 + x2) / 2, (y1 + y2) / 2, (f"{one.length_km:.2f} km",), 4.0, "length")

    def _scale(self) -> tuple[float, float, str]:
        """The scale bar: where it begins, how long it is, what it says."""
        km = round_step(130.0 / self.per_km, down=True)
        text = f"{km:g} km" if km >= 1.0 else f"{km * 1e3:g} m"
        return 14.0, round(km * self.per_km, 1), text


def _points(s: StationRecord) -> bool:
    """Whether an antenna has a boresight in azimuth."""
    return s.azimuth_deg is not None and not is_omnidirectional(s.antenna)


def _near(one: StationRecord, other: StationRecord) -> float:
    north = one.latitude_deg - other.latitude_deg
    east = ((one.longitude_deg - other.longitude_deg + 180.0) % 360.0 - 180.0) * math.cos(
        math.radians(one.latitude_deg)
    )
    return math.hypot(north, east)


def _extent(km: Sequence[tuple[float, float]]) -> float:
    return math.hypot(
        max(p[0] for p in km) - min(p[0] for p in km), max(p[1] for p in km) - min(p[1] for p in km)
    )


def _to_frame(x1: float, y1: float, x2: float, y2: float, frame: Box) -> float:
    """The part of a line, from its first point, that lies inside a frame holding that point; 1 where all does."""
    part = 1.0
    for start, end, low, high in ((x1, x2, frame.left, frame.right), (y1, y2, frame.top, frame.bottom)):
        if end > high:
            part = min(part, (high - start) / (end - start))
        elif end < low:
            part = min(part, (start - low) / (start - end))
    return max(part, 0.0)


def _arrow_head(x: float, y: float, angle: float, size: float = 8.0) -> str:
    left, right = angle + math.radians(155.0), angle - math.radians(155.0)
    return (
        f"M{x + size * math.cos(left):.1f} {y + size * math.sin(left):.1f}L{x:.1f} {y:.1f}"
        f"L{x + size * math.cos(right):.1f} {y + size * math.sin(right):.1f}"
    )
