"""What the page on which a link is typed shows beside the form: the same judgement as the link's page, unsaved."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext

from sites.templatetags.figures import one, two
from spectrum.forms.drafted import drafts_of, may_be_judged, unread
from spectrum.forms.links import LinkEntry
from spectrum.models import Finding
from spectrum.profile_drawing import profile_picture
from spectrum.services.link_preview import Preview, loose_link, preview


def preview_context(entry: LinkEntry, path_to: str) -> dict[str, Any]:
    """Judge what was typed, as far as it can be read, for ``_link_preview.html``. Nothing is saved."""
    entry.is_valid()
    drafts = drafts_of(entry)
    link = loose_link(entry.form.instance)
    found = preview(link, drafts, judge=may_be_judged(entry), path_to=path_to)
    said = list(unread(entry))
    context: dict[str, Any] = {
        "preview": found,
        "link": link,
        "summary": summary(found),
        "side": side(found),
        "unread": [one for one in said if one.is_needed],
        "unread_besides": [one for one in said if not one.is_needed],
        "findings": found.findings,
        "path": found.report,
        "profile": None,
    }
    if found.between is not None:
        one, other = found.between.one.station, found.between.other.station
        context |= {"path_from": one, "path_to": other}
        if found.report is not None and found.report.profile is not None:
            context["profile"] = profile_picture(
                found.report.profile, one.antenna_height_agl_m, other.antenna_height_agl_m
            )
    return context


def summary(found: Preview) -> str:
    """The preview in one line: length, margins, and what the findings say."""
    if found.between is None:
        return gettext("The path is judged as soon as two sites are given.")
    parts = [f"{two(found.between.length_km)} km"]
    ends = () if found.report is None else found.report.ends
    margins = [(end.station.label, end.fade_margin_db) for end in ends]
    known = [
        gettext("{margin} dB at {station}").format(margin=one(margin), station=label)
        for label, margin in margins
        if margin is not None
    ]
    parts.append(
        gettext("fade margin {margins}").format(margins=", ".join(known))
        if known
        else gettext("no fade margin yet")
    )
    parts.append(_findings_in_words(found))
    return "; ".join(parts) + "."


def _findings_in_words(found: Preview) -> str:
    if found.not_live:
        return gettext("not checked in this status")
    if found.findings is None:
        return gettext("findings not judged yet")
    must_fix, decide = count_of(found, Finding.Severity.MUST_FIX), count_of(found, Finding.Severity.DECIDE)
    if must_fix and decide:
        return gettext("{must_fix} must be fixed and {decide} to decide").format(
            must_fix=must_fix, decide=decide
        )
    if must_fix:
        return gettext("{count} must be fixed").format(count=must_fix)
    if decide:
        return gettext("{count} to decide").format(count=decide)
    return gettext("nothing to fix or decide")


def count_of(found: Preview, severity: str) -> int:
    """How many findings of a severity nobody has accepted, those not shown included."""
    shown = sum(f.severity == severity and f.accepted_at is None for f in found.findings or ())
    return shown + found.more.get(severity, 0)


def side(found: Preview) -> str:
    """The colour of the line, as on the link's page: no, decide, yes or open."""
    if found.findings is None or found.report is None:
        return "open"
    margins = [end.fade_margin_db for end in found.report.ends]
    if count_of(found, Finding.Severity.MUST_FIX) or any(m is not None and m <= 0 for m in margins):
        return "no"
    return "decide" if count_of(found, Finding.Severity.DECIDE) else "yes"
