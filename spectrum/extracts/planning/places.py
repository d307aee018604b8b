"""The positions of an extract as sites: those in the register, our own near them, or new ones."""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np

from licences.models import Authority
from sites.geodesy import inverse
from sites.models import Site
from spectrum.extracts.entries import Entry, Place, short_code
from spectrum.extracts.mapping import Mapping
from spectrum.extracts.quality import ONE_TOWER_WITHIN_M

from .plan import Plan

_FIELDS = ("latitude_deg", "longitude_deg", "ground_height_m")
_CHUNK = 500


class Places:
    """One site for each position (or site code) of the extract. Positions are never merged on their own account.

    ``known`` has the sites of ours that positions belong to by the channels licensed there, however far apart.
    """

    def __init__(
        self,
        entries: list[Entry],
        own_rows: set[int],
        mapping: Mapping,
        authority: Authority,
        plan: Plan,
        known: dict[str, Site],
    ) -> None:
        self.mapping, self.authority, self.plan = mapping, authority, plan
        uses: dict[str, list[tuple[int, Place]]] = defaultdict(list)
        for entry in entries:
            uses[entry.tx.key].append((entry.row, entry.tx))
            uses[entry.rx.key].append((entry.row, entry.rx))
        codes = {key: short_code(f"{authority.code} {key}", 40) for key in uses}
        stored = self._stored(list(codes.values()))
        own_keys = {key for key, rows in uses.items() if any(row in own_rows for row, _ in rows)}
        ours = {key: site for key, site in known.items() if codes[key] not in stored}
        ours |= self._ours_near(
            {key: uses[key][0][1] for key in own_keys - ours.keys() if codes[key] not in stored}
        )
        self._sites: dict[str, Site] = {}
        for key, rows in uses.items():
            wanted = self._wanted(codes[key], rows, own=key in own_keys)
            if key in ours:
                plan.same[Site] += 1
                self._sites[key] = ours[key]
                plan.state(wanted, ours[key], self._compared(), rows[0][0], own=True)
            else:
                self._sites[key] = plan.settle(
                    wanted, stored.get(codes[key]), self._compared(), rows[0][0], own=key in own_keys
                )

    def site(self, place: Place) -> Site:
        return self._sites[place.key]

    def _compared(self) -> tuple[str, ...]:
        stated = {"tx_ground_height_m", "rx_ground_height_m"} & self.mapping.columns.keys()
        return _FIELDS if stated else _FIELDS[:2]

    def _stored(self, codes: list[str]) -> dict[str, Site]:
        return {
            site.code: site
            for start in range(0, len(codes), _CHUNK)
            for site in Site.objects.filter(code__in=codes[start : start + _CHUNK])
        }

    def _ours_near(self, places: dict[str, Place]) -> dict[str, Site]:
        """Our nearest own site of each place, where one lies within 100 m."""
        own = list(Site.objects.filter(own=True)) if places else []
        if not own:
            return {}
        latitude = np.array([site.latitude_deg for site in own])
        longitude = np.array([site.longitude_deg for site in own])
        found = {}
        for key, place in places.items():
            metres, _, _ = inverse(place.latitude_deg, place.longitude_deg, latitude, longitude)
            nearest = int(np.argmin(metres))
            if metres[nearest] < ONE_TOWER_WITHIN_M:
                found[key] = own[nearest]
        return found

    def _wanted(self, code: str, rows: list[tuple[int, Place]], *, own: bool) -> Site:
        # The order of rows says nothing: whichever stands first in a later file, the site stays the same.
        place = min((place for _, place in rows), key=lambda p: (p.latitude_deg, p.longitude_deg, p.typed))
        heights = Counter(p.ground_height_m for _, p in rows if p.ground_height_m is not None)
        height = min(heights, key=lambda h: (-heights[h], h)) if heights else None
        notes = [self.mapping.reading.position_note] if self.mapping.reading.position_note else []
        if len(heights) > 1:
            notes.append(
                f"The extract has several ground heights here: {', '.join(f'{h:g} m' for h in sorted(heights))}."
            )
        notes.append("Structure and surroundings are assumed, not in the extract.")
        return Site(
            code=code,
            name=place.name,
            own=own,
            latitude_deg=place.latitude_deg,
            longitude_deg=place.longitude_deg,
            position_typed=place.typed,
            position_notation=place.notation[:40],
            position_epsg=self.mapping.reading.epsg,
            position_source=Site.PositionSource.REGULATOR,
            position_accuracy_m=self.mapping.reading.position_accuracy_m,
            ground_height_m=height,
            notes=" ".join(notes),
        )
