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

from sites.sentences import sentence
from sites.words import gettext, gettext_noop


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
    Field("purpose", gettext_noop("purpose of filing"), gettext_noop("words"), "", per_station=False),
    Field("holder", gettext_noop("applicant"), gettext_noop("name"), "12A", per_station=False),
    Field(
        "contact",
        gettext_noop("responsible contact"),
        gettext_noop("name, address, e-mail, telephone"),
        "12B",
        per_station=False,
    ),
    Field("remarks", gettext_noop("remarks"), gettext_noop("words"), "13C", per_station=False),
    Field("tx_site", gettext_noop("transmitting station"), gettext_noop("code and name"), "4A"),
    Field("region", gettext_noop("administrative area"), gettext_noop("name"), "4B"),
    Field(
        "position",
        gettext_noop("position of the transmitting antenna"),
        gettext_noop("degrees-minutes-seconds, WGS 84"),
        "4C",
        note=gettext_noop("WGS 84"),
    ),
    Field(
        "ground_height",
        gettext_noop("ground height"),
        gettext_noop("m above mean sea level"),
        "9EA",
        note=gettext_noop("above mean sea level"),
    ),
    Field(
        "structure_height",
        gettext_noop("structure height"),
        gettext_noop("m above ground"),
        note=gettext_noop("above ground"),
    ),
    Field("rx_site", gettext_noop("receiving station"), gettext_noop("code and name"), "5A"),
    Field(
        "rx_position",
        gettext_noop("position of the receiving antenna"),
        gettext_noop("degrees-minutes-seconds, WGS 84"),
        "5C",
        note=gettext_noop("WGS 84"),
    ),
    Field("path_length", gettext_noop("path length"), gettext_noop("km")),
    Field("tx_frequency", gettext_noop("assigned transmit frequency"), gettext_noop("MHz"), "1A"),
    Field("rx_frequency", gettext_noop("paired return frequency"), gettext_noop("MHz")),
    Field("channel", gettext_noop("channel plan and channel"), gettext_noop("code and number")),
    Field("band_half", gettext_noop("high or low at this site"), gettext_noop("high or low")),
    Field("channel_width", gettext_noop("channel width"), gettext_noop("kHz")),
    Field("starts_on", gettext_noop("date of bringing into use"), gettext_noop("year-month-day"), "2C"),
    Field("station_class", gettext_noop("class of station"), gettext_noop("code"), "6A"),
    Field(
        "designator",
        gettext_noop("class of emission and necessary bandwidth"),
        gettext_noop("emission designator"),
        "7A",
    ),
    Field("modulation", gettext_noop("modulation"), gettext_noop("name"), "7A"),
    Field("bit_rate", gettext_noop("bit rate"), gettext_noop("kbit/s")),
    Field("radio", gettext_noop("transmitter type"), gettext_noop("name")),
    Field("antenna_power", gettext_noop("power delivered to the antenna"), gettext_noop("dBm and dBW"), "8A"),
    Field("eirp", gettext_noop("e.i.r.p."), gettext_noop("dBm and W"), "8B"),
    Field("erp", gettext_noop("e.r.p."), gettext_noop("dBm and W"), "8B"),
    Field("losses", gettext_noop("feeder and duplexer losses"), gettext_noop("dB")),
    Field("antenna", gettext_noop("antenna type"), gettext_noop("name"), "9J"),
    Field("gain", gettext_noop("antenna gain"), gettext_noop("dBi"), "9G"),
    Field("beamwidth", gettext_noop("half-power beamwidth"), gettext_noop("degrees"), "9C"),
    Field("polarisation", gettext_noop("polarisation"), gettext_noop("H or V"), "9D"),
    Field(
        "azimuth",
        gettext_noop("azimuth of maximum radiation"),
        gettext_noop("degrees from true north"),
        "9A",
        note=gettext_noop("from true north"),
    ),
    Field(
        "tilt",
        gettext_noop("elevation of the antenna"),
        gettext_noop("degrees, up is positive"),
        "9B",
        note=gettext_noop("up is positive"),
    ),
    Field(
        "antenna_height",
        gettext_noop("antenna height"),
        gettext_noop("m above ground"),
        "9E",
        note=gettext_noop("above ground"),
    ),
    Field("receiver", gettext_noop("receiver threshold and noise figure"), gettext_noop("dBm and dB")),
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
        title, notation, note = (gettext(said) for said in (field.title, field.notation, field.note))
        if not value:
            pattern = (
                gettext("Missing: {title} ({notation}). Enter it at {where}.")
                if where
                else gettext("Missing: {title} ({notation}).")
            )
            missing = pattern.format(title=title, notation=notation, where=where.name if where else "")
        lines.append(SheetField(key, title, notation, field.item, note, value, missing, where))
    return lines


def unknown_fields(keys: object) -> str:
    """One sentence on what is wrong with a list of asked fields, or nothing."""
    example = '["tx_frequency", "position"]'
    if not isinstance(keys, Sequence) or isinstance(keys, str) or not all(isinstance(k, str) for k in keys):
        return sentence(
            gettext_noop("A list of the names of fields was expected, for example {example}."),
            example=example,
        )
    if unknown := [key for key in keys if key not in FIELDS]:
        return sentence(
            gettext_noop("{field} is no field of the data sheet; known are {known}."),
            field=repr(unknown[0][:40]),
            known=", ".join(FIELDS),
        )
    if len(set(keys)) != len(keys):
        return sentence(gettext_noop("Each field may stand only once in the list."))
    return ""
