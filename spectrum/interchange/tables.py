"""Which tables there are. To add one: a line here, after the tables that it refers to."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.db import models

from licences.models import Authority, Holder, Licence, LicensedChannel, RenewalPolicy
from sites.errors import RegisterError
from sites.models import AntennaType, Person, Registered, Site
from spectrum.models import (
    ChannelPlan,
    CommissioningRecord,
    ExtractMapping,
    Link,
    ProtectionCriterion,
    RadioMask,
    RadioMode,
    RadioType,
    Station,
)

# What the register keeps for itself; applications, with what was filed, are not carried in tables.
_NEVER = {"id", "version", "created_at", "changed_at", "application"}


@dataclass(frozen=True)
class Table:
    """One kind of object. ``key`` names the fields that tell a row from all others.

    ``needs`` is a permission that importing it asks for beyond that of importing.
    """

    name: str
    model: type[Registered]
    key: tuple[str, ...]
    needs: str = ""

    @cached_property
    def fields(self) -> list[Any]:
        """The fields of a row, in the order in which the model has them; the key first."""
        fields = [f for f in self.model._meta.concrete_fields if f.name not in _NEVER]
        return sorted(
            fields,
            key=lambda f: (f.name not in self.key, self.key.index(f.name) if f.name in self.key else 0),
        )


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
    Table("licences", Licence, ("authority", "number")),
    Table("licensed_channels", LicensedChannel, ("licence", "label")),
    Table("links", Link, ("code",)),
    Table("stations", Station, ("link", "label")),
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
            f"There is no table {name[:60]!r}; there are {', '.join(_BY_NAME)}.", field="table"
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
