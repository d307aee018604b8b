"""The fields of an application's data sheet, and whether what an authority asks is there.

Pure. The list is ours: what the register keeps of the data that ITU Radio Regulations, Appendix 4 and public
application forms for fixed links ask. ``item`` is the item of Appendix 4 it answers to; the numbers are from memory
and not verified against the printed text. What an authority asks besides (fees, signatures, ownership) is no figure
of the register and stays on the authority's own form.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final


@dataclass(frozen=True)
class Field:
    """One field: its key, its name on the sheet, how it is written, the item of RR Appendix 4 (from memory).

    ``note`` stands beside a value that does not say itself what it counts from.
    """

    key: str
    title: str
    notation: str
    item: str = ""
    per_station: bool = True
    note: str = ""


_LIST: Final = (
    Field("purpose", "purpose of filing", "words", "", per_station=False),
    Field("holder", "applicant", "name", "12A", per_station=False),
    Field("contact", "responsible contact", "name, address, e-mail, telephone", "12B", per_station=False),
    Field("remarks", "remarks", "words", "13C", per_station=False),
    Field("tx_site", "transmitting station", "code and name", "4A"),
    Field("region", "administrative area", "name", "4B"),
    Field(
        "position",
        "position of the transmitting antenna",
        "degrees-minutes-seconds, WGS 84",
        "4C",
        note="WGS 84",
    ),
    Field("ground_height", "ground height", "m above mean sea level", "9EA", note="above mean sea level"),
    Field("structure_height", "structure height", "m above ground", note="above ground"),
    Field("rx_site", "receiving station", "code and name", "5A"),
    Field(
        "rx_position",
        "position of the receiving antenna",
        "degrees-minutes-seconds, WGS 84",
        "5C",
        note="WGS 84",
    ),
    Field("path_length", "path length", "km"),
    Field("tx_frequency", "assigned transmit frequency", "MHz", "1A"),
    Field("rx_frequency", "paired return frequency", "MHz"),
    Field("channel", "channel plan and channel", "code and number"),
    Field("band_half", "high or low at this site", "high or low"),
    Field("channel_width", "channel width", "kHz"),
    Field("starts_on", "date of bringing into use", "year-month-day", "2C"),
    Field("station_class", "class of station", "code", "6A"),
    Field("designator", "class of emission and necessary bandwidth", "emission designator", "7A"),
    Field("modulation", "modulation", "name", "7A"),
    Field("bit_rate", "bit rate", "kbit/s"),
    Field("radio", "transmitter type", "name"),
    Field("antenna_power", "power delivered to the antenna", "dBm and dBW", "8A"),
    Field("eirp", "e.i.r.p.", "dBm and W", "8B"),
    Field("erp", "e.r.p.", "dBm and W", "8B"),
    Field("losses", "feeder and duplexer losses", "dB"),
    Field("antenna", "antenna type", "name", "9J"),
    Field("gain", "antenna gain", "dBi", "9G"),
    Field("beamwidth", "half-power beamwidth", "degrees", "9C"),
    Field("polarisation", "polarisation", "H or V", "9D"),
    Field("azimuth", "azimuth of maximum radiation", "degrees from true north", "9A", note="from true north"),
    Field("tilt", "elevation of the antenna", "degrees, up is positive", "9B", note="up is positive"),
    Field("antenna_height", "antenna height", "m above ground", "9E", note="above ground"),
    Field("receiver", "receiver threshold and noise figure", "dBm and dB"),
)
FIELDS: Final[Mapping[str, Field]] = MappingProxyType({field.key: field for field in _LIST})
GENERAL: Final = tuple(field.key for field in _LIST if not field.per_station)
#: What is asked where nothing was entered for an authority: the fields that most public forms ask, e.i.r.p. for power.
DEFAULT_ASKED: Final = (
    "purpose", "holder", "contact", "tx_site", "position", "ground_height", "rx_site", "rx_position", "tx_frequency",
    "designator", "eirp", "gain", "polarisation", "azimuth", "antenna_height",
)  # fmt: skip


@dataclass(frozen=True)
class Where:
    """Where a person enters a field: the model and id of an object (None: removed since), and its name in a sentence."""

    model: str
    pk: int | None
    name: str


@dataclass(frozen=True)
class Filled:
    """What the register has for a field, written as it is asked; empty where it has nothing."""

    value: str
    where: Where | None = None


@dataclass(frozen=True)
class SheetField:
    """One line of the data sheet: the value, or the sentence that says what is missing and where to enter it."""

    key: str
    title: str
    notation: str
    item: str
    note: str
    value: str
    missing: str = ""
    where: Where | None = None


def completeness(asked: Iterable[str], values: Mapping[str, Filled]) -> list[SheetField]:
    """Hold what is asked against what the register has, in the order of the data sheet.

    Parameters
    ----------
    asked : keys of :data:`FIELDS`; each counts once
    values : what the register has, by key; a key that is not there counts as missing

    Raises
    ------
    KeyError
        A key that is not in the list.

    Examples
    --------
    >>> site = Where("places.site", 7, "site V12")
    >>> lines = completeness(["gain", "ground_height"], {"gain": Filled("6.0 dBi"), "ground_height": Filled("", site)})
    >>> [(line.key, line.value) for line in lines]
    [('ground_height', ''), ('gain', '6.0 dBi')]
    >>> lines[0].missing
    'Missing: ground height (m above mean sea level). Enter it at site V12.'
    """
    wanted = set(asked)
    if unknown := sorted(wanted - FIELDS.keys()):
        raise KeyError(f"{', '.join(unknown)}: not in the list of fields")
    lines = []
    for key, field in FIELDS.items():
        if key not in wanted:
            continue
        filled = values.get(key, Filled(""))
        value, where, missing = filled.value.strip(), filled.where, ""
        if not value:
            missing = f"Missing: {field.title} ({field.notation})."
            missing += f" Enter it at {where.name}." if where else ""
        lines.append(
            SheetField(key, field.title, field.notation, field.item, field.note, value, missing, where)
        )
    return lines


def unknown_fields(keys: object) -> str:
    """One sentence on what is wrong with a list of asked fields, or nothing."""
    example = 'for example ["tx_frequency", "position"]'
    if not isinstance(keys, Sequence) or isinstance(keys, str) or not all(isinstance(k, str) for k in keys):
        return f"A list of the names of fields was expected, {example}."
    if unknown := [key for key in keys if key not in FIELDS]:
        return f"{unknown[0][:40]!r} is no field of the data sheet; known are {', '.join(FIELDS)}."
    if len(set(keys)) != len(keys):
        return "Each field may stand only once in the list."
    return ""
