"""What the licence pack of a site says, as text. Every figure is read or computed from the register on the day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import Q, prefetch_related_objects
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from licences import selectors as licence_selectors
from licences.models import Licence, LicensedChannel
from licences.standing import Standing, channel_dates, standing
from sites.models import Document, Site
from sites.positions import format_dms
from sites.reading import written_day
from sites.saying import said
from sites.selectors import documents_of
from sites.templatetags.figures import fixed
from spectrum import selectors
from spectrum.commissioning.words import Line
from spectrum.conflicts.as_built import as_built_findings
from spectrum.conflicts.gather import criteria_in_force, links_whole, terrain_in_force
from spectrum.conflicts.kinds import NOTE
from spectrum.conflicts.licence_checks import station_licence_findings
from spectrum.conflicts.network import Network
from spectrum.models import Link, Station
from spectrum.services.commissioning import latest_records, one_as_found
from spectrum.services.register_columns import revision_now

from .channels import ChannelPart, channel_part
from .stations import StationPart, station_part

CAUTIONS = (
    _(
        "Licence first: nothing in this pack is a permission to transmit. The licences themselves decide, not this copy "
        "of their figures."
    ),
    _(
        "Climb and isolate under the rules of the structure's owner, with people who are trained for it; switch off "
        "before working near an antenna."
    ),
    _(
        "The exposure distances are guidance in the main beam of one antenna alone. Where several transmit, the fields "
        "add up; the local code and a measurement decide."
    ),
    _(
        "Never key a transmitter into an open port. Circuits that carry protection are switched off only with the "
        "protection engineer's release."
    ),
)


@dataclass(frozen=True)
class LicencePart:
    """One licence that covers the site, with its channels there."""

    licence: Licence
    heading: str
    lines: list[Line]
    channels: list[ChannelPart]


@dataclass(frozen=True)
class Pack:
    """The pack of one site on one day. ``off`` says what is off, station by station; none: nothing known."""

    site: Site
    heading: str
    made_on: dt.date
    revision: int
    site_lines: list[Line]
    stations: list[StationPart] = field(default_factory=list)
    licences: list[LicencePart] = field(default_factory=list)
    contacts: list[Line] = field(default_factory=list)
    papers: list[Line] = field(default_factory=list)

    @property
    def off(self) -> list[str]:
        return [
            sentence if sentence.startswith(part.name) else f"{part.name}: {sentence}"
            for part in self.stations
            for sentence in part.off
        ]

    @property
    def as_of(self) -> str:
        """On which state of the register the pack stands."""
        return gettext("As the register stands on {made_on}, revision {revision}.").format(
            made_on=written_day(self.made_on), revision=self.revision
        )

    @property
    def answer(self) -> str:
        """The first line of the pack."""
        sending, licences = sum(part.sends for part in self.stations), len(self.licences)
        if not self.stations:
            return ngettext(
                "No live station stands here in the register; {licences} licence covers the site.",
                "No live station stands here in the register; {licences} licences cover the site.",
                licences,
            ).format(licences=licences)
        there = gettext("{stations}, {licences}.").format(
            stations=ngettext(
                "{count} transmitting station", "{count} transmitting stations", sending
            ).format(count=sending),
            licences=ngettext("{count} licence", "{count} licences", licences).format(count=licences),
        )
        off = len(self.off)
        if not off:
            return gettext(
                "{there} Nothing is known to be off the licences, nor found otherwise than planned."
            ).format(there=there)
        return ngettext(
            "{there} {off} thing is off and said below.", "{there} {off} things are off and said below.", off
        ).format(there=there, off=off)


def site_pack(site: Site, today: dt.date, documents: bool = True) -> Pack:
    """The pack of a site. ``documents`` False: for whoever may not see which papers are attached."""
    rows = list(
        selectors.all_stations()
        .select_related(
            "link__holder",
            "link__responsible",
            "licensed_channel__licence__authority__renewal_policy",
            "licensed_channel__licence__holder",
            "licensed_channel__site",
        )
        .filter(site=site, link__status__in=Link.LIVE)
    )
    network = links_whole({row.link_id for row in rows}, today)
    records = {record.id: record for record in network.stations}
    rows = [
        row for row in rows if row.pk in records
    ]  # a link that is off the air by now is not live on the day
    off = _off(site, network)
    found = latest_records(Q(station__in=[row.pk for row in rows]))
    channels = _channels(site, rows)
    names = {row.pk: records[row.pk].name for row in rows}
    return Pack(
        site=site,
        heading=gettext("Site {site}").format(site=f"{site.code} {site.name}"),
        made_on=today,
        revision=revision_now().number,
        site_lines=_site_lines(site),
        stations=[station_part(row, records[row.pk], off.get(row.pk, []), found.get(row.pk)) for row in rows],
        licences=_licences(channels, rows, names, today),
        contacts=_contacts(rows, channels),
        papers=_papers(site, {channel.licence for channel in channels}) if documents else [],
    )


def _site_lines(site: Site) -> list[Line]:
    source = site.get_position_source_display()
    if site.position_accuracy_m is not None:
        source = gettext("{source}, within {distance} m").format(
            source=source, distance=fixed(site.position_accuracy_m, 0)
        )
    height = f", {fixed(site.structure_height_m, 1)} m" if site.structure_height_m is not None else ""
    ground = gettext("not known") if site.ground_height_m is None else f"{fixed(site.ground_height_m, 1)} m"
    return [
        Line(
            gettext("position, degrees minutes seconds (WGS 84)"),
            format_dms(site.latitude_deg, site.longitude_deg),
        ),
        Line(
            gettext("position, degrees (WGS 84)"),
            f"{fixed(site.latitude_deg, 5)} {fixed(site.longitude_deg, 5)}",
        ),
        Line(gettext("position from"), source),
        Line(gettext("ground above sea level"), ground),
        Line(gettext("structure"), f"{site.get_structure_display()}{height}"),
        Line(gettext("region"), site.region or gettext("not entered")),
        Line(gettext("whose"), gettext("our own place") if site.own else gettext("another party's")),
    ]


def _off(site: Site, network: Network) -> dict[int, list[str]]:
    """What is off with our stations at the site: against their licences, and as they were found; by station."""
    criteria = criteria_in_force()
    found = {key: one_as_found(row) for key, row in latest_records(Q(station__site=site)).items()}
    drafts = [
        *station_licence_findings(network),
        *as_built_findings(network, criteria, found, terrain_in_force()),
    ]
    number = {(s.link.id, s.label): s.id for s in network.stations if s.site_id == site.pk}
    off: dict[int, list[str]] = {}
    for draft in drafts:
        station = number.get((draft.parties.link_id or 0, draft.parties.station_label))
        if station is not None and draft.severity != NOTE:
            headline = said(draft.headline)
            sentence = headline if headline.endswith(".") else f"{headline}."
            sentences = off.setdefault(station, [])
            if sentence not in sentences:
                sentences.append(sentence)
    return off


def _channels(site: Site, rows: Sequence[Station]) -> list[LicensedChannel]:
    """The channels that cover the site, and those that its stations name although they do not."""
    channels = {c.pk: c for c in licence_selectors.channels_covering(site)}
    for row in rows:
        if row.licensed_channel is not None:
            channels.setdefault(row.licensed_channel.pk, row.licensed_channel)
    prefetch_related_objects([c.licence for c in channels.values()], "authority__renewal_policy")
    return sorted(channels.values(), key=lambda c: (str(c.licence), c.label, c.pk))


def _licences(
    channels: Iterable[LicensedChannel], rows: Sequence[Station], names: dict[int, str], today: dt.date
) -> list[LicencePart]:
    users: dict[int, list[str]] = {}
    for row in rows:
        if row.licensed_channel_id is not None:
            users.setdefault(row.licensed_channel_id, []).append(names[row.pk])
    parts: dict[int, LicencePart] = {}
    for channel in channels:
        licence, stands = channel.licence, _standing(channel, today)
        if (
            not stands.allows_transmission
            and channel.pk not in users
            and stands is not Standing.NOT_YET_IN_FORCE
        ):
            continue
        part = parts.setdefault(
            licence.pk,
            LicencePart(
                licence,
                gettext("Licence {licence}").format(licence=licence),
                _licence_lines(licence, today),
                [],
            ),
        )
        part.channels.append(channel_part(channel, stands, users.get(channel.pk, [])))
    return list(parts.values())


def _standing(channel: LicensedChannel, day: dt.date) -> Standing:
    licence = channel.licence
    dates = channel_dates(
        licence,
        in_force_from=channel.in_force_from,
        expires_on=channel.expires_on,
        ended_on=channel.ended_on,
        ended_how=channel.ended_how,
    )
    return standing(dates, licence_selectors.terms_of(licence), day)


def _licence_lines(licence: Licence, today: dt.date) -> list[Line]:
    return [
        Line(gettext("number"), licence.number, licence_selectors.standing_on(licence, today).words),
        Line(gettext("authority"), f"{licence.authority.code} {licence.authority.name}"),
        Line(gettext("holder"), licence.holder.name),
        Line(gettext("service"), licence.service or gettext("not entered")),
        Line(gettext("granted"), _day(licence.granted_on, gettext("not granted"))),
        Line(gettext("in force from"), _day(licence.in_force_from, gettext("not in force"))),
        Line(gettext("expires"), _day(licence.expires_on, gettext("no fixed end"))),
    ]


def _day(day: dt.date | None, otherwise: str) -> str:
    return otherwise if day is None else written_day(day)


def _contacts(rows: Sequence[Station], channels: Iterable[LicensedChannel]) -> list[Line]:
    """Who looks after the links and licences, and how to reach their holders; each once."""
    lines: dict[str, Line] = {}
    for row in rows:
        if row.link.responsible is not None:
            person = row.link.responsible
            lines.setdefault(
                f"p{person.pk}", Line(gettext("looks after links here"), str(person), person.email)
            )
    for channel in channels:
        if channel.licence.responsible is not None:
            person = channel.licence.responsible
            lines.setdefault(
                f"l{person.pk}", Line(gettext("looks after licences here"), str(person), person.email)
            )
    holders = [row.link.holder for row in rows] + [channel.licence.holder for channel in channels]
    for holder in holders:
        reach = ", ".join(text for text in (holder.contact_phone, holder.contact_email) if text)
        lines.setdefault(
            f"h{holder.pk}",
            Line(
                gettext("our own utility") if holder.own else gettext("other party"),
                holder.name,
                reach or gettext("no contact entered"),
            ),
        )
    return list(lines.values())


def _papers(site: Site, licences: Iterable[Licence]) -> list[Line]:
    """The documents that are attached to the site and its licences, so that a copy can be asked for."""
    documents: list[tuple[str, Document]] = [
        (gettext("site {site}").format(site=site.code), d) for d in documents_of(site)
    ]
    listed = sorted(licences, key=str)
    prefetch_related_objects(listed, "documents")
    documents += [
        (gettext("licence {licence}").format(licence=licence), d)
        for licence in listed
        for d in licence.documents.all()
    ]
    return [
        Line(
            name,
            d.title,
            gettext("{kind}, {day}, SHA-256 {sha256}…").format(
                kind=d.get_kind_display(), day=_day(d.dated, gettext("no date")), sha256=d.sha256[:12]
            ),
        )
        for name, d in documents
    ]
