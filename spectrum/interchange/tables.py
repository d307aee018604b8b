"""Which tables there are. To add one: a line here, after the tables that it refers to."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

from django.db import models
from django.utils.translation import gettext_lazy as _

from licences.models import (
    Application,
    Authority,
    Holder,
    Licence,
    LicenceEvent,
    LicensedChannel,
    RenewalPolicy,
)
from sites.errors import RegisterError
from sites.models import AntennaType, Person, Registered, Site
from sites.sentences import sentence
from sites.words import gettext_noop
from spectrum.models import (
    ApplicationLink,
    ChannelPlan,
    CommissioningRecord,
    ExtractMapping,
    FiledStation,
    InterferenceEntry,
    Link,
    ProtectionCriterion,
    RadioMask,
    RadioMode,
    RadioType,
    Station,
)

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

#: Fields that no table has, and why.
FIELDS_LEFT_OUT: Final = {
    "id": "the number of a row says nothing in another register; its key does",
    "version": "counts the changes in this register",
    "created_at": "when the row was entered in this register",
    "changed_at": "when the row was changed in this register",
    "finding": "what the checks found is found again by the next check",
}

#: What is stored and in no table, and why; people read it on the page of the tables.
LEFT_OUT: Final[dict[str, StrOrPromise]] = {
    "places.Person": _("accounts, with their passwords, belong to one installation"),
    "places.Document": _("files of any form; their folder is copied beside the tables"),
    "places.MapLayer": _(
        "drawings of up to 2 MB, longer than a cell of a workbook; the GeoJSON is given again"
    ),
    "places.ChangeRecord": _("who changed what in this register; an import is a change of its own"),
    "places.ChangeSeal": _("seals the change record of this register"),
    "places.Job": _("work of this installation"),
    "licences.Reminder": _(
        "made anew from the dates of the licences; which mails went out is of this installation"
    ),
    "licences.ReminderSettings": _("a person's own, as accounts are"),
    "spectrum.Check": _("the next check makes them again"),
    "spectrum.Finding": _("the next check finds them again; what was accepted, and why, is of this register"),
    "spectrum.NetworkRun": _("work of this installation"),
    "spectrum.Shard": _("work of this installation"),
    "spectrum.Variant": _("studies of what might be, not the register; accepted ones are links"),
    "spectrum.PlannedChange": _("part of a variant"),
    "spectrum.VariantCheck": _("part of a variant"),
    "spectrum.VariantFinding": _("part of a variant"),
    "spectrum.ExtractRun": _("which extracts were read, and when; they are read again"),
    "spectrum.RegulatorRecord": _("what the extracts say; they are read again"),
    "spectrum.Difference": _("follows from the register and the extracts"),
    "spectrum.ImportFile": _("a file that waits to be read"),
}


@dataclass(frozen=True)
class Table:
    """One kind of object. ``key`` names the fields that tell a row from all others.

    ``needs`` is a permission that importing it asks for beyond that of importing.
    """

    name: str
    model: type[Registered]
    key: tuple[str, ...]
    needs: str = ""
    #: Rows come in together with a new object that this field names, and then stay as they are.
    part_of: str = ""
    #: What only an act on the object's page changes once it is stored.
    kept: tuple[str, ...] = ()

    @cached_property
    def fields(self) -> list[Any]:
        """The fields of a row, in the order in which the model has them; the key first."""
        fields = [f for f in self.model._meta.concrete_fields if f.name not in FIELDS_LEFT_OUT]
        return sorted(
            fields,
            key=lambda f: (f.name not in self.key, self.key.index(f.name) if f.name in self.key else 0),
        )


_FILES: Final = "licences.file_application"
_SET_BY_FILING: Final = (
    "state", "drawn_up_by", "filed_on", "filed_despite", "filed_as", "authority_reference", "decided_on",
    "decision_remarks",
)  # fmt: skip

TABLES = (
    Table("authorities", Authority, ("code",)),
    Table("renewal_policies", RenewalPolicy, ("authority",)),
    Table("holders", Holder, ("name",)),
    Table("sites", Site, ("code",)),
    Table("antenna_types", AntennaType, ("name",)),
    Table("channel_plans", ChannelPlan, ("code",)),
    Table("radio_types", RadioType, ("name",)),
    Table("radio_modes", RadioMode, ("radio_type", "label")),
    Table("radio_masks", RadioMask, ("radio_type", "channel_width_hz", "kind")),
    Table("protection_criteria", ProtectionCriterion, ("name",), "spectrum.change_protectioncriterion"),
    Table("applications", Application, ("number",), _FILES, kept=_SET_BY_FILING),
    Table("licences", Licence, ("authority", "number"), kept=("application",)),
    Table("licensed_channels", LicensedChannel, ("licence", "label")),
    Table("licence_steps", LicenceEvent, ("licence", "number"), "licences.add_licenceevent", "licence"),
    Table("links", Link, ("code",)),
    Table("stations", Station, ("link", "label")),
    Table("application_links", ApplicationLink, ("application", "link"), _FILES, "application"),
    Table("filed_stations", FiledStation, ("application_link", "label"), _FILES, "application_link"),
    Table("interference_entries", InterferenceEntry, ("link", "began_on", "observed")),
    Table("commissioning_records", CommissioningRecord, ("station", "found_on", "found_by")),
    Table("extract_mappings", ExtractMapping, ("code",)),
)
_BY_NAME = {table.name: table for table in TABLES}
_BY_MODEL: dict[type[models.Model], Table] = {table.model: table for table in TABLES}


def table_named(name: str) -> Table:
    """The table of a name. RegisterError names those there are."""
    wanted = name.strip().lower().replace(" ", "_")
    if wanted not in _BY_NAME:
        raise RegisterError(
            sentence(
                gettext_noop("There is no table {name}; there are {names}."),
                name=repr(name[:60]),
                names=", ".join(_BY_NAME),
            ),
            field="table",
        )
    return _BY_NAME[wanted]


def key_paths(model: type[models.Model]) -> list[str]:
    """The stored values that identify an object, as paths from it: ``["licence__authority__code", …]``."""
    if model is Person:
        return ["username"]
    paths = []
    table = _BY_MODEL[model]
    for name in table.key:
        related: Any = model._meta.get_field(name).related_model
        paths += [f"{name}__{path}" for path in key_paths(related)] if related else [name]
    return paths


def key_field(model: type[models.Model], path: str) -> Any:
    """The field at the end of a path."""
    first, _, rest = path.partition("__")
    field = model._meta.get_field(first)
    return key_field(field.related_model, rest) if rest else field  # type: ignore[arg-type]


def table_of(model: type[models.Model]) -> str:
    """The name of the table of a model; its noun for one that is not imported."""
    return _BY_MODEL[model].name if model in _BY_MODEL else str(model._meta.verbose_name_plural)
