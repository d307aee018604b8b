"""From entries to a plan, by comparison with what the register holds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any, TypeVar

from django.db import models

from licences.models import Authority, Holder, Licence, LicensedChannel
from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.extracts.entries import Entry, mark, short_code
from spectrum.extracts.mapping import Mapping
from spectrum.extracts.registrants import Registrant, plain, registrants_of
from spectrum.models import Link, Station

from .equipment import Equipment
from .ours import channels_of_ours
from .places import Places
from .plan import Plan

_CHUNK = 500
M = TypeVar("M", bound=models.Model)
_LICENCE_FIELDS = (
    "holder",
    "service",
    "granted_on",
    "in_force_from",
    "expires_on",
    "ended_on",
    "ended_why",
)
_CHANNEL_FIELDS = ("site", "latitude_deg", "longitude_deg", "frequency_hz")
_LINK_FIELDS = ("holder", "status", "starts_on", "ends_on")


def plan_of(entries: list[Entry], mapping: Mapping, authority: Authority) -> Plan:
    """What the rows would change. ``authority`` may be one that is not in the register yet."""
    return _Planner(entries, mapping, authority).plan


def in_chunks(query: models.QuerySet[M], name: str, values: Iterable[Any]) -> list[M]:
    """The rows of a query whose field is one of many values, some hundreds at a time."""
    listed = list(values)
    return [
        row
        for start in range(0, len(listed), _CHUNK)
        for row in query.filter(**{f"{name}__in": listed[start : start + _CHUNK]})
    ]


class _Planner:
    def __init__(self, entries: list[Entry], mapping: Mapping, authority: Authority) -> None:
        self.mapping, self.authority = mapping, authority
        self.plan = Plan()
        self.entries = list({entry.key: entry for entry in reversed(entries)}.values())[::-1]
        self.equipment = Equipment(mapping.stand_ins, self.plan)
        self.holders = self._holders(registrants_of(self.entries))
        own_rows = {entry.row for entry in self.entries if self.holders[entry.row].own}
        self.plan.own_rows = len(own_rows)
        self.own_rows = own_rows
        self.ours = channels_of_ours([e for e in self.entries if e.row in own_rows], authority)
        known = {
            e.tx.key: site for e in self.entries if e.row in self.ours and (site := self.ours[e.row].site)
        }
        self.places = Places(self.entries, own_rows, mapping, authority, self.plan, known)
        self.licences = self._licences()
        self.channels = self._channels()
        self._links([entry for entry in self.entries if entry.row not in own_rows])
        self._missing()
        self.plan.decide()

    def _holders(self, registrants: dict[int, Registrant]) -> dict[int, Holder]:
        """The holder of each row. One in the register is found by any spelling of the name."""
        stored = {plain(holder.name): holder for holder in Holder.objects.order_by("-pk")}
        own = {plain(name) for name in self.mapping.own_registrants}
        made: dict[int, Holder] = {}
        for party in registrants.values():
            if id(party) in made:
                continue
            found = next(
                (stored[plain(name)] for name in [party.name, *party.other_names] if plain(name) in stored),
                None,
            )
            if found is not None:
                self.plan.same[Holder] += 1
                made[id(party)] = found
                continue
            ours = bool(own & {plain(text) for text in (*party.spellings, *party.numbers)})
            notes = (
                [f"Registrant {', '.join(sorted(party.numbers))} of {self.authority.code}."]
                if party.numbers
                else []
            )
            if party.other_names:
                notes.append(f"Also written: {'; '.join(party.other_names)}.")
            made[id(party)] = self.plan.enter(
                Holder(name=party.name, own=ours, notes=" ".join(notes)), min(party.rows)
            )
        return {row: made[id(party)] for row, party in registrants.items()}

    def _licences(self) -> dict[str, Licence]:
        stored: dict[str, Licence] = {}
        if not self.authority._state.adding:
            query = Licence.objects.filter(authority=self.authority).select_related("authority", "holder")
            numbers = {entry.licence_number for entry in self.entries}
            stored = {licence.number: licence for licence in in_chunks(query, "number", numbers)}
        result: dict[str, Licence] = {}
        assumed = "" if "channel_width_khz" in self.mapping.columns else self.equipment.widths_assumed
        fields = (*_LICENCE_FIELDS, "ended_how") if self.mapping.how_ended else _LICENCE_FIELDS
        for entry in self.entries:
            number = entry.licence_number
            if number in result:
                continue
            wanted = Licence(
                authority=self.authority,
                number=number,
                holder=self.holders[entry.row],
                service=entry.service,
                granted_on=entry.granted_on,
                in_force_from=entry.in_force_from,
                expires_on=entry.expires_on,
                ended_on=entry.ended_on,
                ended_how=self.mapping.how_ended.get(entry.status, "") if entry.ended_on else "",
                ended_why="" if entry.in_use else entry.status,
                source=self.mapping.source,
                notes=assumed,
            )
            own = entry.row in self.own_rows
            result[number] = self.plan.settle(wanted, stored.get(number), fields, entry.row, own=own)
        return result

    def _channels(self) -> dict[tuple[str, str], LicensedChannel]:
        """One for each assigned frequency at a position, by licence number and label."""
        kept = [licence.pk for licence in self.licences.values() if licence.pk is not None]
        query = LicensedChannel.objects.select_related("licence__authority", "site")
        stored = {(row.licence_id, row.label): row for row in in_chunks(query, "licence_id", kept)}
        fields = list(_CHANNEL_FIELDS)
        fields += ["channel_width_hz"] if "channel_width_khz" in self.mapping.columns else []
        fields += ["emission_designators"] if "emission_designator" in self.mapping.columns else []
        result: dict[tuple[str, str], LicensedChannel] = {}
        waiting: set[tuple[str, str]] = set()
        for entry in self.entries:
            licence, label = self.licences[entry.licence_number], channel_label(entry)
            if (entry.licence_number, label) in result:
                continue
            wanted = LicensedChannel(
                licence=licence,
                label=label,
                site=self.places.site(entry.tx),
                latitude_deg=entry.tx.latitude_deg,
                longitude_deg=entry.tx.longitude_deg,
                frequency_hz=entry.frequency_hz,
                channel_width_hz=entry.channel_width_hz or round(entry.band.channel_width_khz * 1e3),
                emission_designators=[entry.emission_designator] if entry.emission_designator else [],
            )
            own = entry.row in self.own_rows
            found = self.ours.get(entry.row) or stored.get((licence.pk, label))
            if found is None and own and self._entered_by_a_person(licence):
                # What our own licence covers is not added to in silence: the registrar decides.
                if (entry.licence_number, label) not in waiting:
                    self.plan.state(wanted, None, tuple(fields), entry.row, own=True)
                waiting.add((entry.licence_number, label))
                continue
            result[entry.licence_number, label] = self.plan.settle(
                wanted, found, tuple(fields), entry.row, own=own
            )
        return result

    def _entered_by_a_person(self, licence: Licence) -> bool:
        return licence.pk is not None and licence.source != self.mapping.source

    def _links(self, entries: list[Entry]) -> None:
        codes = {entry.row: link_code(entry, self.mapping) for entry in entries}
        query = Link.objects.select_related("holder")
        stored = {link.code: link for link in in_chunks(query, "code", codes.values())}
        stations: dict[int, dict[str, Station]] = defaultdict(dict)
        for station in in_chunks(Station.objects.all(), "link_id", [link.pk for link in stored.values()]):
            stations[station.link_id][station.label] = station
        for entry in entries:
            wanted = self._link(entry, codes[entry.row])
            link = self.plan.settle(wanted, stored.get(wanted.code), _LINK_FIELDS, entry.row)
            ends = stations.get(link.pk, {}) if link.pk is not None else {}
            for end in (self._sender(entry, link), self._listener(entry, link)):
                found = ends.get(end.label)
                if found is not None:
                    found.link = link
                self.plan.settle(end, found, self._stated(end), entry.row)

    def _link(self, entry: Entry, code: str) -> Link:
        starts_on, ends_on = entry.in_force_from, None
        if not entry.in_use:
            ends_on = entry.ended_on or entry.expires_on
            starts_on = min(starts_on, ends_on) if ends_on else starts_on
        return Link(
            code=code,
            name=f"{self.places.site(entry.tx).name} – {self.places.site(entry.rx).name}"[:160],
            holder=self.holders[entry.row],
            status=Link.Status.ON_AIR if entry.in_use else Link.Status.RETIRED,
            starts_on=starts_on,
            ends_on=ends_on,
            assumptions=self.equipment.assumptions(entry, self.mapping),
            notes=f"One direction of a path of licence {entry.licence_number}, from {self.mapping.source}.",
        )

    def _sender(self, entry: Entry, link: Link) -> Station:
        power = entry.band.tx_power_dbm if entry.tx_power_dbm is None else entry.tx_power_dbm
        return Station(
            link=link,
            role=Station.Role.A,
            label="A",
            site=self.places.site(entry.tx),
            tx_frequency_hz=entry.frequency_hz,
            tx_power_dbm=power,
            licensed_channel=self.channels[entry.licence_number, channel_label(entry)],
            **self._common(entry, entry.tx.antenna_height_agl_m),
        )

    def _listener(self, entry: Entry, link: Link) -> Station:
        return Station(
            link=link,
            role=Station.Role.B,
            label="B",
            site=self.places.site(entry.rx),
            rx_frequency_hz=entry.frequency_hz,
            **self._common(entry, entry.rx.antenna_height_agl_m),
        )

    def _common(self, entry: Entry, height_agl_m: float | None) -> dict[str, Any]:
        stand_ins = self.mapping.stand_ins
        radio, mode, antenna = self.equipment.of(entry.band)
        return {
            "antenna_height_agl_m": stand_ins.antenna_height_agl_m if height_agl_m is None else height_agl_m,
            "polarisation": entry.polarisation or stand_ins.polarisation,
            "antenna_type": antenna,
            "radio_type": radio,
            "mode": mode,
        }

    def _stated(self, end: Station) -> tuple[str, ...]:
        """The fields of a station that the extract states; what is assumed is written once and then left alone."""
        columns = self.mapping.columns
        sends = end.label == "A"
        fields = ["site", "tx_frequency_hz", "licensed_channel"] if sends else ["site", "rx_frequency_hz"]
        fields += ["tx_power_dbm"] if sends and "tx_power_dbm" in columns else []
        fields += ["polarisation"] if "polarisation" in columns else []
        height = "tx_antenna_height_agl_m" if sends else "rx_antenna_height_agl_m"
        return (*fields, "antenna_height_agl_m") if height in columns else tuple(fields)

    def _missing(self) -> None:
        """What an earlier file of this mapping brought and this one does not hold."""
        if self.authority._state.adding:
            return
        brought = Licence.objects.filter(authority=self.authority, source=self.mapping.source)
        gone = sorted(set(brought.values_list("number", flat=True)) - self.licences.keys())
        self.plan.missing += [sentence(_("licence {number}"), number=number) for number in gone]
        links = Link.objects.filter(stations__licensed_channel__licence__in=brought, holder__own=False)
        here = {link_code(entry, self.mapping) for entry in self.entries}
        self.plan.missing += [
            sentence(_("link {code}"), code=code)
            for code in sorted(set(links.values_list("code", flat=True)) - here)
        ]


def channel_label(entry: Entry) -> str:
    """Frequency and position; unique within a licence."""
    return short_code(f"{entry.frequency_hz / 1e6:.5f} {entry.tx.key}", 40)


def link_code(entry: Entry, mapping: Mapping) -> str:
    """Licence, frequency, and a mark of what identifies the row: the same for the same row of any later file."""
    said = short_code(f"{entry.licence_number} {entry.frequency_hz / 1e6:.5f}", 31)
    return f"{said} {mark(mapping.code + entry.key)}"
