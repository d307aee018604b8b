"""Who may do what: the roles, as groups of Django permissions.

A migration puts this table into the database; a change here needs a new
migration that calls :func:`give_permissions` again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from django.apps import apps as installed_apps
from django.contrib.auth.management import create_permissions

VIEWER: Final = "viewer"
FIELD_ENGINEER: Final = "field engineer"
PLANNER: Final = "planner"
REGISTRAR: Final = "registrar"
MANAGER: Final = "manager"
ADMINISTRATOR: Final = "administrator"

APPS: Final = ("places", "licences", "spectrum")


def _allowed(acts: str, *models: str) -> frozenset[str]:
    """Permission names: ``_allowed("add change", "places.site")`` is places.add_site, places.change_site."""
    return frozenset(
        f"{app}.{act}_{name}" for act in acts.split() for app, name in (model.split(".") for model in models)
    )


PLACES = ("places.site", "places.antennatype")
PAPERS = (
    "licences.authority",
    "licences.renewalpolicy",
    "licences.holder",
    "licences.licence",
    "licences.licensedchannel",
    "spectrum.extractmapping",
)
#: Steps in the life of a licence: entered, never changed or taken back; a correction is a step of its own.
STEPS = ("licences.licenceevent",)
EQUIPMENT = ("spectrum.channelplan", "spectrum.radiotype", "spectrum.radiomode", "spectrum.radiomask")
#: They move the line between clear and disturbed for everybody: a setting, not a planner's choice.
CRITERIA = ("spectrum.protectioncriterion",)
#: What the map is drawn on: the administrator's.
LAYERS = ("places.maplayer",)
#: Files attached to what is in the register; who may change the object may attach to it.
DOCUMENTS = ("places.document",)
LINKS = ("spectrum.link", "spectrum.station")
#: What was found on site: entered by whoever was there, never taken back but by an administrator.
FOUND = ("spectrum.commissioningrecord",)
#: What disturbed a link: entered by whoever saw it or took it up with the other party.
LOG = ("spectrum.interferenceentry",)
#: Planned changes that are checked together; each writes to the register only by the permissions for links.
VARIANTS = ("spectrum.variant",)
_OF_VARIANTS = ("spectrum.plannedchange", "spectrum.variantcheck", "spectrum.variantfinding")
#: Planners draw them up; filing and what came of it is the registrar's.
APPLICATIONS = ("licences.application",)
_OF_APPLICATIONS = ("spectrum.applicationlink", "spectrum.filedstation")
RUNS = ("places.job", "licences.reminder", "spectrum.check", "spectrum.finding", "spectrum.extractrun")
#: What the regulator's extracts say, and where it differs from the register.
COMPARED = ("spectrum.regulatorrecord", "spectrum.difference")

_VIEW = _allowed(
    "view",
    *PLACES,
    *DOCUMENTS,
    *PAPERS,
    *STEPS,
    *EQUIPMENT,
    *CRITERIA,
    *LAYERS,
    *LINKS,
    *FOUND,
    *LOG,
    *VARIANTS,
    *_OF_VARIANTS,
    *APPLICATIONS,
    *_OF_APPLICATIONS,
    *RUNS,
    *COMPARED,
)
_HISTORY = _allowed("view", "places.changerecord")
_ACCEPT = frozenset({"spectrum.accept_finding"})
#: Papers and photos of a link for whoever works on it without planning it.
_ATTACH = frozenset({"spectrum.attach_link"})
_CHECK_NETWORK = frozenset({"spectrum.check_network"})
_OTHERS = frozenset({"spectrum.what_others_hold"})
_FILE = frozenset({"licences.file_application"})
#: Answering the reminders of others; everybody answers their own.
_ANSWER = frozenset({"licences.answer_reminder"})
_IMPORT = frozenset({"spectrum.add_extractrun"})
_DECIDE = frozenset({"spectrum.decide_difference"})

ROLES: Final[Mapping[str, frozenset[str]]] = {
    VIEWER: _VIEW,
    FIELD_ENGINEER: _VIEW | _ATTACH | _allowed("add change", *FOUND, *LOG, *DOCUMENTS),
    PLANNER: _VIEW
    | _HISTORY
    | _allowed("add change", *PLACES, *EQUIPMENT, *LINKS, *FOUND, *LOG, *VARIANTS, *APPLICATIONS, *DOCUMENTS)
    | _ACCEPT
    | _OTHERS
    | _CHECK_NETWORK,
    REGISTRAR: _VIEW
    | _HISTORY
    | _allowed("add change delete", *PAPERS, *APPLICATIONS, "places.site", *DOCUMENTS)
    | _allowed("add change", *LOG)
    | _allowed("add", *STEPS)
    | _FILE
    | _ANSWER
    | _OTHERS
    | _IMPORT
    | _DECIDE,
    MANAGER: _VIEW | _HISTORY | _ACCEPT | _ANSWER | _CHECK_NETWORK,
    ADMINISTRATOR: _VIEW
    | _HISTORY
    | _allowed(
        "add change delete",
        *PLACES,
        *PAPERS,
        *EQUIPMENT,
        *CRITERIA,
        *LAYERS,
        *LINKS,
        *FOUND,
        *LOG,
        *VARIANTS,
        *APPLICATIONS,
        *DOCUMENTS,
    )
    | _allowed("add", *STEPS)
    | _FILE
    | _allowed("view add change delete", "places.person")
    | _allowed("view", "licences.remindersettings")
    | _ACCEPT
    | _ANSWER
    | _CHECK_NETWORK
    | _OTHERS
    | _IMPORT
    | _DECIDE,
}


def give_permissions(apps: Any = installed_apps, *, using: str = "default") -> None:
    """Make the groups, and give each precisely the permissions of :data:`ROLES`.

    ``apps`` is the registry of a migration, or the installed one. Permissions of
    models that a later migration adds do not exist yet and are left to that migration.
    """
    for label in APPS:
        app = apps.get_app_config(label)
        if getattr(app, "models_module", None) is None:
            app.models_module = (
                True  # a migration's registry has the models, but no module that Django looks for
            )
        create_permissions(app, apps=apps, using=using, verbosity=0)
    group, permission = apps.get_model("auth", "Group"), apps.get_model("auth", "Permission")
    stored = {
        f"{row.content_type.app_label}.{row.codename}": row
        for row in permission.objects.using(using)
        .filter(content_type__app_label__in=APPS)
        .select_related("content_type")
    }
    for name, wanted in ROLES.items():
        role, _ = group.objects.using(using).get_or_create(name=name)
        role.permissions.set([stored[key] for key in sorted(wanted) if key in stored])
