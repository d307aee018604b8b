"""The rows of the access table for pages: name, who may and what is answered, arguments, body.

A form that is sent empty comes back with what is missing (422); a removal leads to the list (302)
or says what still uses the object (409).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.small_register import SmallRegister

NOBODY = "not signed in"
V, F, P, R, M, A = "viewer", "field engineer", "planner", "registrar", "manager", "administrator"
ALL = (V, F, P, R, M, A)
EVERYBODY = (NOBODY, *ALL)

May = dict[str, tuple[tuple[str, ...], int]]
Arguments = Callable[[SmallRegister], list[Any]]
Row = tuple[str, May, Arguments, dict[str, Any]]


def row(name: str, may: May, of: str = "") -> Row:
    return (name, may, lambda register: [getattr(register, of).pk] if of else [], {})


def pages(
    name: str,
    of: str,
    *,
    add: tuple[str, ...],
    change: tuple[str, ...],
    remove: tuple[str, ...],
    removed: int = 302,
    unused: str = "",
) -> list[Row]:
    """List, page, and the three forms of one kind of object."""
    return [
        row(f"{name}-list", {"GET": (ALL, 200)}),
        row(name, {"GET": (ALL, 200)}, of),
        row(f"{name}-add", {"GET": (add, 200), "POST": (add, 422)}),
        row(f"{name}-change", {"GET": (change, 200), "POST": (change, 422)}, of),
        row(f"{name}-remove", {"GET": (remove, 200), "POST": (remove, removed)}, unused or of),
    ]


def part(
    name: str, of: str, whole: str, who: tuple[str, ...], remove: tuple[str, ...], removed: int = 302
) -> list[Row]:
    """The three forms of something that is read on the page of what it belongs to."""
    return [
        row(f"{name}-add", {"GET": (who, 200), "POST": (who, 422)}, whole),
        row(f"{name}-change", {"GET": (who, 200), "POST": (who, 422)}, of),
        row(f"{name}-remove", {"GET": (remove, 200), "POST": (remove, removed)}, of),
    ]


PLACES, EQUIPMENT, PAPERS = (P, R, A), (P, A), (R, A)

PAGE_ROWS: list[Row] = [
    row("sign-in", {"GET": (EVERYBODY, 200), "POST": (EVERYBODY, 200)}),
    row("sign-out", {"POST": (EVERYBODY, 302)}),
    row("home", {"GET": (ALL, 200)}),
    row("search", {"GET": (ALL, 200)}),
    row("methods", {"GET": (ALL, 200)}),
    ("method", {"GET": (ALL, 200)}, lambda register: ["noise-ktb-dbm"], {}),
    *pages("site", "near", add=PLACES, change=PLACES, remove=(R, A), unused="unused_site"),
    row("site-pack", {"GET": (ALL, 200)}, "near"),
    row("site-pack-pdf", {"GET": (ALL, 200)}, "near"),
    *pages("antenna-type", "antenna_type", add=EQUIPMENT, change=EQUIPMENT, remove=(A,), removed=409),
    row("undo", {"POST": (ALL, 302)}),
    row("document-list", {"GET": (ALL, 200)}),
    row("document", {"GET": (ALL, 200)}, "document"),
    row("document-file", {"GET": (ALL, 200)}, "document"),
    (
        "document-add",
        {"GET": (PLACES, 200), "POST": (PLACES, 422)},
        lambda register: ["site", register.near.pk],
        {},
    ),
    row("document-change", {"GET": (PLACES, 200), "POST": (PLACES, 422)}, "document"),
    row("document-remove", {"GET": (PAPERS, 200), "POST": (PAPERS, 302)}, "document"),
    row("change-list", {"GET": ((P, R, M, A), 200)}),
    row("net-changes", {"GET": ((P, R, M, A), 200)}),
    row("job-list", {"GET": (ALL, 200)}),
    row("job", {"GET": (ALL, 200)}, "job"),
    row("job-cancel", {"POST": ((A,), 302)}, "job"),  # and whoever asked for it
    *pages("authority", "authority", add=PAPERS, change=PAPERS, remove=PAPERS, removed=409),
    *part("renewal-policy", "policy", "authority", PAPERS, PAPERS),
    *pages("holder", "other", add=PAPERS, change=PAPERS, remove=PAPERS),
    *pages("licence", "licence", add=PAPERS, change=PAPERS, remove=PAPERS),
    (
        "licence-step",
        {"GET": (PAPERS, 200), "POST": (PAPERS, 422)},
        lambda register: [register.licence.pk, "surrender"],
        {},
    ),
    (
        "licensed-channel-step",
        {"GET": (PAPERS, 200), "POST": (PAPERS, 422)},
        lambda register: [register.go.pk, "surrender"],
        {},
    ),
    row("reminder-list", {"GET": (ALL, 200)}),
    row("reminder", {"GET": (ALL, 200), "POST": ((R, M, A), 422)}, "reminder"),  # and the recipient
    row("reading", {"GET": (ALL, 200), "POST": (ALL, 422)}),
    row("reminder-settings", {"GET": (ALL, 200), "POST": (ALL, 422)}),
    row("reminder-calendar-renew", {"POST": (ALL, 302)}),
    (
        "reminder-by-mail",
        {"GET": (EVERYBODY, 404), "POST": (EVERYBODY, 404)},
        lambda register: ["acknowledge", "not-signed"],
        {},
    ),
    ("reminder-calendar", {"GET": (EVERYBODY, 404)}, lambda register: ["not-signed"], {}),
    row("licensed-channel-list", {"GET": (ALL, 200)}),
    row("licensed-channel", {"GET": (ALL, 200)}, "go"),
    *part("licensed-channel", "go", "licence", PAPERS, PAPERS),
    row("occupancy", {"GET": (ALL, 200)}),
    *pages("channel-plan", "plan", add=EQUIPMENT, change=EQUIPMENT, remove=(A,)),
    *pages("radio-type", "radio_type", add=EQUIPMENT, change=EQUIPMENT, remove=(A,), removed=409),
    *part("radio-mode", "mode", "radio_type", EQUIPMENT, (A,), removed=409),
    *part("radio-mask", "mask", "radio_type", EQUIPMENT, (A,)),
    *pages("link", "link", add=(P, A), change=(P, A), remove=(A,)),
    row("link-check", {"POST": ((F, P, M, A), 302)}, "link"),
    row("link-pairs", {"GET": (ALL, 200)}, "link"),
    row("link-commissioning", {"GET": (ALL, 200)}, "link"),
    row("link-commissioning-pdf", {"GET": (ALL, 200)}, "link"),
    (
        "commissioning-record-add",
        {"GET": ((F, P, A), 200), "POST": ((F, P, A), 422)},
        lambda register: [register.link.stations.order_by("pk")[0].pk],
        {},
    ),
    row("commissioning-record-change", {"GET": ((F, P, A), 200), "POST": ((F, P, A), 422)}, "found"),
    row("commissioning-record-remove", {"GET": ((A,), 200), "POST": ((A,), 302)}, "found"),
    row("link-pair-take", {"POST": ((P, A), 302)}, "link"),
    row("link-pair-extend", {"POST": ((P, A), 302)}, "link"),
    row("link-pair-release", {"POST": ((P, A), 302)}, "link"),
    row("link-status", {"POST": ((P, A), 302)}, "link"),
    row("map", {"GET": (ALL, 200)}),
    row("map-data", {"GET": (ALL, 200)}),
    row("map-site", {"GET": (ALL, 200)}, "near"),
    row("map-link", {"GET": (ALL, 200)}, "link"),
    row("map-place", {"GET": (ALL, 400)}),  # no place is named
    row("map-layers", {"GET": (ALL, 200)}),
    ("map-relief", {"GET": (ALL, 404)}, lambda register: [10, 1, 1], {}),  # no terrain is loaded
    row("interference-entry-list", {"GET": (ALL, 200)}),
    row("interference-entry", {"GET": (ALL, 200)}, "interference"),
    row(
        "interference-entry-add",
        {"GET": ((F, P, R, A), 200), "POST": ((F, P, R, A), 422)},
        "link",
    ),
    row(
        "interference-entry-change",
        {"GET": ((F, P, R, A), 200), "POST": ((F, P, R, A), 422)},
        "interference",
    ),
    row("interference-entry-remove", {"GET": ((A,), 200), "POST": ((A,), 302)}, "interference"),
    row("finding-list", {"GET": (ALL, 200)}),
    row("finding", {"GET": (ALL, 200)}, "finding"),
    row("finding-sensitivity", {"GET": (ALL, 409)}, "finding"),  # its other link is not in the register
    row("finding-accept", {"POST": ((P, M, A), 422)}, "finding"),
    row("finding-reopen", {"POST": ((P, M, A), 409)}, "finding"),
    row("completeness", {"GET": (ALL, 200)}),
    row("difference-list", {"GET": (ALL, 200)}),
    row("difference", {"GET": (ALL, 200)}, "difference"),
    row("difference-decide", {"POST": (PAPERS, 422)}, "difference"),
    row("check-list", {"GET": (ALL, 200)}),
    row("check", {"GET": (ALL, 200)}, "check"),
    row("tables", {"GET": (ALL, 200)}),
    ("register-file", {"GET": (ALL, 200)}, lambda register: ["zip"], {}),
    row("import-tables", {"POST": ((R, A), 422)}),
    row("table-import", {"GET": ((R, A), 404)}, "job"),  # a job of another kind
    row("import-apply", {"POST": ((R, A), 404)}, "job"),
    row("extract-import", {"GET": ((R, A), 200), "POST": ((R, A), 422)}),
    row("extract-trial", {"GET": ((R, A), 404)}, "job"),
    row("extract-apply", {"POST": ((R, A), 404)}, "job"),
    row("extract-cases", {"GET": ((R, A), 404)}, "job"),
    row("network-check", {"POST": ((P, M, A), 302)}),
    *pages("application", "application", add=PLACES, change=PLACES, remove=PAPERS),
    row("application-pdf", {"GET": (ALL, 200)}, "application"),
    row("application-csv", {"GET": (ALL, 200)}, "application"),
    row("application-xlsx", {"GET": (ALL, 200)}, "application"),
    row("application-link-add", {"POST": (PLACES, 302)}, "application"),
    (
        "application-link-take-out",
        {"POST": (PLACES, 302)},
        lambda register: [register.application.pk, register.link.pk],
        {},
    ),
    row("application-file", {"POST": (PAPERS, 422)}, "application"),
    row("application-grant", {"GET": (PAPERS, 302), "POST": (PAPERS, 422)}, "application"),  # not filed
    row("application-refuse", {"POST": (PAPERS, 422)}, "application"),
    row("application-withdraw", {"POST": (PAPERS, 422)}, "application"),
    *pages("variant", "variant", add=EQUIPMENT, change=EQUIPMENT, remove=(A,)),
    row("variant-link-add", {"GET": (EQUIPMENT, 200), "POST": (EQUIPMENT, 422)}, "variant"),
    (
        "variant-link-change",
        {"GET": (EQUIPMENT, 200), "POST": (EQUIPMENT, 422)},
        lambda register: [register.variant.pk, register.link.pk],
        {},
    ),
    row("variant-open-link", {"POST": (EQUIPMENT, 302)}, "variant"),
    row("variant-retire", {"POST": (EQUIPMENT, 302)}, "variant"),
    (
        "variant-take-out",
        {"POST": (EQUIPMENT, 302)},
        lambda register: [register.variant.pk, register.planned.pk],
        {},
    ),
    row("variant-check", {"POST": (EQUIPMENT, 302)}, "variant"),
    ("variant-finding", {"GET": (ALL, 404)}, lambda register: [register.variant.pk, 1], {}),  # not checked
    row("variant-accept", {"POST": (EQUIPMENT, 302)}, "variant"),
    row("variant-drop", {"POST": (EQUIPMENT, 302)}, "variant"),
]
