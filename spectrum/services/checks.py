"""Running checks: gather, compute, store. Nothing is stored unless the whole run came to its end."""

from __future__ import annotations

import datetime as dt

from django.db.models import Q
from django.utils import timezone

from sites.errors import RegisterError
from sites.sentences import sentence
from sites.services.record import Author
from sites.words import gettext_noop as _
from spectrum.conflicts.criteria import MODEL_VERSION, Criteria
from spectrum.conflicts.gather import criteria_in_force, terrain_in_force, with_same_channels
from spectrum.conflicts.kinds import SITE_KINDS
from spectrum.conflicts.run import other_findings
from spectrum.models import Check, Link
from spectrum.services import findings
from spectrum.services.commissioning import as_found
from spectrum.services.link_surroundings import interference_around, victims_of
from spectrum.services.network_run import check_network
from spectrum.services.site_surroundings import sites_around

__all__ = ["check_link", "check_network"]


def check_link(link_id: int, *, by: Author | None = None, as_of: dt.date | None = None) -> Check:
    """Check one link against the whole register and store what was found. Raises RegisterError if it is gone."""
    link = Link.objects.filter(pk=link_id).first()
    if link is None:
        raise RegisterError(
            sentence(
                _("There is no link with the number {link_id}; it may have been removed."), link_id=link_id
            )
        )
    started_at, day, criteria = timezone.now(), as_of or timezone.localdate(), criteria_in_force()
    # Sums that stand may hold a share of this link as it was before; they are made again.
    summed = victims_of(link, findings.current_victims_of_sums())
    near, terrain = sites_around(link, day, criteria), terrain_in_force()
    interference = interference_around(link, day, criteria, summed, terrain)
    others = other_findings(
        with_same_channels(link, day),
        criteria,
        link_id=link.pk,
        at_sites=near,
        as_found=as_found(Q(station__link=link)),
        terrain=terrain,
    )
    drafts = list({draft.identity: draft for draft in (*interference.drafts, *others)}.values())
    scope = Q(link=link) | Q(other_link=link) | Q(kind="aggregate", link_id__in=interference.victims)
    scope |= Q(kind__in=SITE_KINDS, site_id__in=near.sites or ())
    counts = findings.store(drafts, scope=scope, started_at=started_at)
    return _note(Check.Scope.LINK, link, by, day, started_at, criteria, counts)


def _note(
    scope: str, link: Link | None, by: Author | None, day: dt.date, started_at: dt.datetime, criteria: Criteria,
    counts: dict[str, object],
) -> Check:  # fmt: skip
    return Check.objects.create(
        scope=scope,
        link=link,
        asked_by=by.person if by else None,
        as_of=day,
        started_at=started_at,
        ended_at=timezone.now(),
        parameters=criteria.as_json(),
        model_version=MODEL_VERSION,
        counts=counts,
    )
