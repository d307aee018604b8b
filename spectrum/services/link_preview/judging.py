"""What can be said about a link while it is being typed: its paths, its levels, and the findings it would bring."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from django.conf import settings
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext, gettext_noop

from licences.models import Licence
from sites.geodesy import inverse
from spectrum import selectors
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.gather import criteria_in_force, links_whole, terrain_in_force
from spectrum.conflicts.interference import Prepared
from spectrum.conflicts.kinds import RANK
from spectrum.conflicts.network import Network, StationRecord, with_records
from spectrum.conflicts.path_report import Fading, PathReport, Receiver, path_report
from spectrum.conflicts.run import other_findings
from spectrum.conflicts.trial import Trial, trial_of
from spectrum.models import Finding, Link, Station
from spectrum.radio.antennas.pointing import elevation_deg
from spectrum.services.commissioning import as_found
from spectrum.services.findings import as_finding
from spectrum.services.link_surroundings import network_of
from spectrum.services.site_surroundings import crowded_sites, equipment_of, sites_around_draft
from spectrum.wording import unjudged_of

from .drafting import NEW_LINK, DraftStation, records_of

# A margin that moves by less is the same: the rounding of what is shown.
MOVED_BY = 0.05
# So many pairs are explained; a link that disturbs more is not going to be filed as it is.
MOST_EXPLAINED = 12
# So many findings are shown with their arithmetic; the others are counted.
MOST_SHOWN = 24
# At a site with more stations around it the combinations of transmitters take seconds; the check makes them.
MOST_AROUND_A_SITE = 24
NO_LEVEL = gettext_noop("What the level depends on could not be read.")


@dataclass(frozen=True)
class PathFigures:
    """What follows from two places alone. Angles in degrees; a tilt is None where a height is not known."""

    one: DraftStation
    other: DraftStation
    length_km: float
    azimuth_deg: float | None
    back_azimuth_deg: float | None
    tilt_deg: float | None
    back_tilt_deg: float | None


@dataclass(frozen=True)
class Preview:
    """All that is known. ``findings`` is None where something that every finding depends on is not known yet.

    ``more`` counts by severity what was found and is not among the findings; ``crowded`` are the codes of the
    sites at which so many stand that what happens among them is left to the check.
    """

    link: Link
    paths: list[PathFigures] = field(default_factory=list)
    report: PathReport | None = None
    between: PathFigures | None = None
    findings: list[Finding] | None = None
    not_live: bool = False
    more: dict[str, int] = field(default_factory=dict)
    crowded: list[str] = field(default_factory=list)

    @property
    def not_judged(self) -> list[str]:
        """What its findings could not take into account, each sentence once."""
        return sorted({sentence for finding in self.findings or () for sentence in unjudged_of(finding)})


def preview(
    link: Link,
    drafts: Sequence[DraftStation],
    *,
    judge: bool = True,
    path_to: str = "",
    as_of: dt.date | None = None,
) -> Preview:
    """Judge a link with the register as it stands; where it is in the register, in place of what is there.

    Parameters
    ----------
    link : with the values typed; they need not be complete, and nothing is saved
    drafts : end A and end B, or the hub and its remotes
    judge : whether the link's own fields could be read, so that findings mean something
    path_to : the label of the remote to which the path is drawn; the first complete one where it is empty
    as_of : today where it is not given
    """
    day = as_of or timezone.localdate()
    criteria = criteria_in_force()
    paths = _paths(drafts)
    chosen = next((path for path in paths if path.other.station.label == path_to), None)
    chosen = (
        chosen or next((path for path in paths if path.other.is_complete), None) or next(iter(paths), None)
    )
    complete = [draft for draft in drafts if draft.is_complete]
    records = dict(zip((id(draft) for draft in complete), records_of(link, complete, day), strict=True))
    report = None
    if chosen is not None and chosen.one.is_complete and chosen.other.is_complete:
        report = _report(chosen, [records[id(draft)] for draft in (chosen.one, chosen.other)], criteria, day)
    result = Preview(link, paths, report, chosen)
    if not judge or len(complete) < max(len(drafts), 2) or any(draft.unknown for draft in drafts):
        return result
    if link.status not in Link.LIVE or (link.ends_on is not None and link.ends_on < day):
        return replace(result, not_live=True)
    trial, crowded = _trial(link, drafts, list(records.values()), criteria, day)
    findings = _findings(link, trial.drafts)
    more = Counter(trial.more) + Counter(f.severity for f in findings[MOST_SHOWN:] if f.accepted_at is None)
    return replace(result, findings=findings[:MOST_SHOWN], more=dict(more), crowded=crowded)


def _paths(drafts: Sequence[DraftStation]) -> list[PathFigures]:
    """A to B, or the hub to each remote, as far as both sites are known."""
    if not drafts or not drafts[0].is_placed:
        return []
    first, others = drafts[0], [draft for draft in drafts[1:] if draft.is_placed]
    if not others:
        return []
    here = first.station.site
    length_m, azimuth, back = inverse(
        here.latitude_deg,
        here.longitude_deg,
        [draft.station.site.latitude_deg for draft in others],
        [draft.station.site.longitude_deg for draft in others],
    )
    return [
        PathFigures(
            first,
            draft,
            float(length_m[n]) / 1e3,
            _known(azimuth[n]),
            _known(back[n]),
            _tilt(first, draft, float(length_m[n])),
            _tilt(draft, first, float(length_m[n])),
        )
        for n, draft in enumerate(others)
    ]


def _known(degrees: float) -> float | None:
    return float(degrees) if math.isfinite(degrees) else None


def _tilt(one: DraftStation, other: DraftStation, length_m: float) -> float | None:
    heights = [
        draft.station.site.ground_height_m + draft.height_agl_m
        for draft in (one, other)
        if draft.height_agl_m is not None and draft.station.site.ground_height_m is not None
    ]
    if length_m <= 0.0 or len(heights) < 2:
        return None
    return float(elevation_deg(length_m / 1e3, *heights))


def _report(path: PathFigures, records: list[StationRecord], criteria: Criteria, day: dt.date) -> PathReport:
    """The path between two complete stations; without levels where what they depend on could not be read."""
    modes = [draft.station.mode for draft in (path.one, path.other)]
    receivers = [Receiver(m.receiver_threshold_dbm, m.bit_rate_kbps, m.one_way_delay_ms) for m in modes]
    fading = Fading(**settings.RADIO_FADING) if settings.RADIO_FADING else None
    network = Network(as_of=day, stations=records)
    report = path_report(network, receivers, criteria, terrain_in_force(), fading)
    if path.one.has_levels and path.other.has_levels:
        return report
    one, other = (
        replace(end, wanted_dbm=None, availability_percent=None, availability_why=gettext(NO_LEVEL))
        for end in report.ends
    )
    return replace(report, ends=(one, other))


def _trial(
    link: Link,
    drafts: Sequence[DraftStation],
    records: list[StationRecord],
    criteria: Criteria,
    day: dt.date,
) -> tuple[Trial, list[str]]:
    """Every finding in which the link has a part or that it brings to others at its sites, as saving would find it.

    And the codes of the sites that are too crowded to be judged at once.
    """
    terrain, key = terrain_in_force(), records[0].link.id
    stations = [draft.station for draft in drafts]
    tuned = [(s.tx_frequency_hz, s.rx_frequency_hz, s.mode_id) for s in stations]
    around = with_records(network_of(tuned, (), day), records, but=link.pk)
    trial = trial_of(Prepared(around, criteria, terrain), key, most=MOST_EXPLAINED)
    equipment = {record.id: equipment_of(s) for record, s in zip(records, stations, strict=True)}
    codes = {record.site_id: record.site_code for record in records}
    crowded = crowded_sites(codes, criteria, more_than=MOST_AROUND_A_SITE)
    others = other_findings(
        _with_same_channels(records, day, link.pk),
        criteria,
        link_id=key,
        at_sites=sites_around_draft(records, equipment, day, criteria, replaces=link.pk, but=crowded),
        as_found=as_found(Q(station__in=[s.pk for s in stations if s.pk])) if link.pk else None,
        terrain=terrain,
    )
    return replace(trial, drafts=[*trial.drafts, *others]), sorted(codes[site] for site in crowded)


def _with_same_channels(records: list[StationRecord], day: dt.date, replaces: int | None) -> Network:
    """The drafted link, and the live links that rely on the same licensed channels, with its papers."""
    channels = {record.channel.id: record.channel for record in records if record.channel is not None}
    same: set[int] = set()
    if channels:
        relying = Station.objects.filter(licensed_channel__in=channels, link__status__in=Link.LIVE)
        same = set(relying.values_list("link_id", flat=True)) - {replaces}
    others = links_whole(same, day).stations if same else ()
    licences = {channel.licence.id: channel.licence for channel in channels.values()}
    return Network(
        as_of=day,
        stations=[*others, *records],
        licences=list(licences.values()),
        channels=list(channels.values()),
    )


def _findings(link: Link, drafts: Sequence[Draft]) -> list[Finding]:
    """The findings to show, worst first.

    What others at its sites suffer without it is not its own; of that only what it brings or worsens is shown.
    An acceptance is shown where the finding it was given for is found again.
    """
    drawn_up = {draft.identity: draft for draft in drafts}
    stored = {f.identity: f for f in selectors.current_findings().filter(identity__in=list(drawn_up))}
    now, key, shown = timezone.now(), link.pk or NEW_LINK, []
    for identity, draft in drawn_up.items():
        before = stored.get(identity)
        is_own = key in (draft.parties.link_id, draft.parties.other_link_id)
        if not is_own and before is not None and not _worse(draft, before):
            continue
        finding = as_finding(identity, draft, now)
        if before is not None:
            finding.accepted_at, finding.accepted_by = before.accepted_at, before.accepted_by
            finding.accepted_reason = before.accepted_reason
        shown.append(finding)
    _name_parties(shown)
    shown.sort(key=lambda f: (f.rank, f.margin is None, f.margin or 0.0, f.headline))
    return shown


def _worse(draft: Draft, before: Finding) -> bool:
    if draft.severity != before.severity:
        return RANK[draft.severity] < before.rank
    return draft.margin is not None and before.margin is not None and draft.margin < before.margin - MOVED_BY


def _name_parties(findings: list[Finding]) -> None:
    """Give findings the links and licences they name, together; a link that is not stored is left out."""
    numbers = {n for f in findings for n in (f.link_id, f.other_link_id) if n is not None and n > 0}
    links = Link.objects.in_bulk(numbers)
    papers = {f.licence_id for f in findings if f.licence_id is not None}
    licences = Licence.objects.select_related("authority").in_bulk(papers)
    for finding in findings:
        finding.link = links.get(finding.link_id)
        finding.other_link = links.get(finding.other_link_id)
        finding.licence = licences.get(finding.licence_id)
