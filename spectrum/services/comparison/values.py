"""What is compared of a thing, as plain values that can be kept and read."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.models import Licence, LicensedChannel
from sites.geodesy import inverse
from sites.models import Registered, Site
from sites.reading import written_day
from sites.templatetags.figures import drawn, mhz, short
from spectrum.models import Link, RegulatorRecord, Station

MODELS: Final[Mapping[str, type[Registered]]] = {
    RegulatorRecord.Kind.LICENCE: Licence,
    RegulatorRecord.Kind.CHANNEL: LicensedChannel,
    RegulatorRecord.Kind.SITE: Site,
    RegulatorRecord.Kind.LINK: Link,
    RegulatorRecord.Kind.STATION: Station,
}
KINDS: Final = {model: kind for kind, model in MODELS.items()}
RELATED: Final[Mapping[type[Registered], tuple[str, ...]]] = {
    Licence: ("authority", "holder"),
    LicensedChannel: ("licence__authority", "site"),
    Site: (),
    Link: ("holder",),
    Station: ("link", "site", "licensed_channel__licence__authority"),
}
POSITION: Final = "position"
SAME_POSITION_M: Final = 0.01
"""Two spellings of one position; of our own places what the survey leaves open is allowed, at least 1 m."""
OWN_POSITION_M: Final = 1.0


def kind_of(obj: Registered) -> str:
    return str(KINDS[type(obj)])


def key_of(obj: Any) -> str:
    """What names a thing in the extract, whatever the register calls it."""
    if isinstance(obj, Licence):
        return obj.number
    if isinstance(obj, LicensedChannel):
        return f"{obj.licence.number}/{obj.label}"
    return f"{obj.link.code}/{obj.label}" if isinstance(obj, Station) else str(obj.code)


def values_of(obj: Registered, fields: Iterable[str]) -> dict[str, Any]:
    """Plain values by field; latitude and longitude are one thing, the position."""
    names = list(fields)
    values = {name: _plain(obj, name) for name in names if name not in ("latitude_deg", "longitude_deg")}
    if "latitude_deg" in names:
        values[POSITION] = position_of(obj)
    return values


def position_of(obj: Any) -> list[float] | None:
    """Of a channel the licensed position, which is its site's where it has none of its own."""
    at = obj.site if isinstance(obj, LicensedChannel) and obj.latitude_deg is None else obj
    return None if at is None else [at.latitude_deg, at.longitude_deg]


def fields_of(values: Mapping[str, Any]) -> list[str]:
    """The fields of the model that the names of kept values stand for."""
    names = [name for name in values if name != POSITION]
    return [*names, "latitude_deg", "longitude_deg"] if POSITION in values else names


def apart_m(first: Any, second: Any) -> float | None:
    """The distance of two positions in metres; None where one is not known."""
    if not first or not second:
        return None
    return float(np.round(inverse(*first, *second)[0], 3))


def differs(name: str, register: Any, regulator: Any, *, obj: Any = None, own: bool = False) -> bool:
    """Whether register and regulator say different things of a field."""
    if name == POSITION:
        metres = apart_m(register, regulator)
        allowed = SAME_POSITION_M
        if own:
            allowed = max(OWN_POSITION_M, getattr(obj, "position_accuracy_m", None) or 0.0)
        return register != regulator if metres is None else metres > allowed
    if isinstance(register, dict) and isinstance(regulator, dict):
        return bool(register["id"] != regulator["id"])
    return bool(
        (register or None) != (regulator or None) if not _is_number(register) else register != regulator
    )


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _plain(obj: Registered, name: str) -> Any:
    column: Any = obj._meta.get_field(name)
    if column.is_relation:
        related = getattr(obj, name)
        return None if related is None else {"id": related.pk, "is": str(related)}
    value = getattr(obj, name)
    return value.isoformat() if isinstance(value, dt.date) else value


_WORDS: Final = {
    "frequency_hz": _("assigned frequency"),
    "tx_frequency_hz": _("transmit frequency"),
    "rx_frequency_hz": _("receive frequency"),
    "channel_width_hz": _("channel width"),
    "tx_power_dbm": _("transmitter output"),
    "antenna_height_agl_m": _("antenna height above ground"),
    "ground_height_m": _("ground height"),
    "ended_on": _("first day without it"),
    "ended_why": _("why it ended"),
    "granted_on": _("granted"),
    "expires_on": _("expires"),
    "starts_on": _("on the air from"),
    "ends_on": _("last day on the air"),
    "emission_designators": _("emissions"),
}
_ISO_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
_UNITS: Final = (("_dbm", "dBm"), ("_m", "m"))


def words_of(name: str) -> str:
    return str(_WORDS.get(name, name.replace("_", " ")))


def shown(name: str, value: Any) -> str:
    """A value as a person reads it, with its unit."""
    if value in (None, "", []):
        return gettext("nothing")
    if isinstance(value, dict):
        return str(value["is"])
    if isinstance(value, list):
        return ", ".join(f"{item:.6f}" if name == POSITION else str(item) for item in value)
    if name.endswith("_on") and _ISO_DAY.fullmatch(str(value)):
        return written_day(dt.date.fromisoformat(value))
    return f"{mhz(value)} MHz" if name.endswith("_hz") and "width" not in name else _with_unit(name, value)


def _with_unit(name: str, value: Any) -> str:
    if name == "channel_width_hz":
        return f"{drawn(format(value / 1e3, 'g'))} kHz"
    unit = next((unit for ending, unit in _UNITS if name.endswith(ending)), "")
    return f"{short(value)} {unit}".strip()
