"""The grant: what was asked becomes licences and licensed channels, with what the authority changed, once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from licences.applying import Act, State
from licences.models import Application, Licence, LicensedChannel
from sites.errors import RegisterError
from sites.models import Person
from sites.reading import written_day
from sites.services import record
from sites.services.record import Author, as_register_error
from spectrum.filing.figures import StationFigures
from spectrum.filing.granted import asked_power_dbm
from spectrum.models import ApplicationLink, FiledStation, Link, Station
from spectrum.services.links import save_link

from .refusing import check_decided_on
from .state import DecidedError, all_applications, held, step


@dataclass(frozen=True)
class GrantedChannel:
    """What was granted for one filed station. ``licence_number`` is empty where it is that of the grant."""

    frequency_hz: int
    channel_width_hz: int
    emission_designators: Sequence[str]
    power_limit_dbm: float | None
    power_kind: str
    antenna_height_max_m: float | None = None
    polarisation: str = ""
    azimuth_deg: float | None = None
    azimuth_tolerance_deg: float | None = None
    licence_number: str = ""


@dataclass(frozen=True)
class Grant:
    """A grant: number and dates of the licence, and for each filed station, by its id, what was granted."""

    number: str
    granted_on: dt.date
    in_force_from: dt.date
    channels: Mapping[int, GrantedChannel]
    expires_on: dt.date | None = None
    bring_into_use_by: dt.date | None = None
    service: str = ""
    yearly_fee: Decimal | None = None
    fee_currency: str = ""
    tolerance_m: float | None = None
    reference: str = ""
    remarks: str = ""
    responsible: Person | None = None
    numbers: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        several = {channel.licence_number or self.number for channel in self.channels.values()}
        object.__setattr__(self, "numbers", frozenset(several))


def as_asked(filed: FiledStation, asked: Sequence[str]) -> GrantedChannel:
    """What would be granted if the authority changed nothing: what the form of the grant begins with.

    ``asked`` are the fields that were asked; the power limit is in the kind among them, e.i.r.p. before e.r.p.
    """
    figures = StationFigures.from_json(filed.figures)
    kinds = LicensedChannel.PowerKind
    kind = kinds.EIRP if "eirp" in asked else kinds.ERP if "erp" in asked else kinds.TX_OUTPUT
    return GrantedChannel(
        frequency_hz=figures.tx_frequency_hz,
        channel_width_hz=figures.channel_width_hz,
        emission_designators=[figures.emission_designator],
        power_limit_dbm=asked_power_dbm(figures, kind),
        power_kind=kind,
        antenna_height_max_m=figures.antenna_height_agl_m,
        polarisation=figures.polarisation,
    )


def changed(channel: GrantedChannel, changes: Mapping[str, Any]) -> GrantedChannel:
    """What was granted where the authority changed some of what was asked."""
    return replace(channel, **changes)


def grant(
    application: Application,
    terms: Grant,
    *,
    by: Author,
    today: dt.date,
    expected_version: int | None = None,
) -> Application:
    """Record a grant: its licences, a licensed channel for each filed station, and the links that may now be built.

    All or nothing, and once: when the same grant was recorded already, by whomever, nothing is written and the
    application comes back as it stands. Raises DecidedError when it was decided otherwise, RegisterError,
    StaleWriteError, and ValidationError for what the register refuses of a licence or channel.
    """
    with transaction.atomic():
        stored = held(application)
        if stored.state == State.GRANTED:
            return _granted_already(stored, terms)
        state = step(stored, Act.GRANT)
        stored = held(stored, expected_version=expected_version)
        check_decided_on(stored, terms.granted_on, today, field="granted_on")
        rows = list(all_applications().get(pk=stored.pk).links.all())
        _complete(rows, terms)
        stored.state, stored.decided_on = state.value, terms.granted_on
        stored.decision_remarks = terms.remarks.strip()
        stored.authority_reference = terms.reference.strip() or stored.authority_reference
        record.change(stored, by=by, reason=f"Licence {', '.join(sorted(terms.numbers))}.")
        licences = {number: _licence(stored, number, terms, by) for number in sorted(terms.numbers)}
        for row in rows:
            _grant_link(row, licences, terms, by)
        return stored


def _granted_already(stored: Application, terms: Grant) -> Application:
    made = set(stored.licences.values_list("number", flat=True))
    if made == terms.numbers:
        return stored
    raise DecidedError(
        gettext(
            "Application {application} was granted on {decided_on} already, as licence {licences}. Correct the "
            "licence itself if it is wrong."
        ).format(
            application=stored,
            decided_on=written_day(stored.decided_on) if stored.decided_on else "",
            licences=", ".join(sorted(made)),
        ),
        field="state",
    )


def _complete(rows: Sequence[ApplicationLink], terms: Grant) -> None:
    filed = {kept.pk: f"{row.link.code}/{kept.label}" for row in rows for kept in row.filed.all()}
    if lacking := [name for pk, name in filed.items() if pk not in terms.channels]:
        raise RegisterError(
            gettext("The grant says nothing of {station}; every filed station was asked for.").format(
                station=lacking[0]
            )
        )
    if foreign := sorted(set(terms.channels) - filed.keys()):
        raise RegisterError(
            gettext("Station {number} was not filed in this application.").format(number=foreign[0])
        )


def _licence(application: Application, number: str, terms: Grant, by: Author) -> Licence:
    licence = Licence(
        authority=application.authority,
        number=number,
        holder=application.holder,
        application=application,
        responsible=terms.responsible,
        service=terms.service,
        granted_on=terms.granted_on,
        in_force_from=terms.in_force_from,
        bring_into_use_by=terms.bring_into_use_by,
        expires_on=terms.expires_on,
        yearly_fee=terms.yearly_fee,
        fee_currency=terms.fee_currency,
        source=f"application {application}",
    )
    return record.create(licence, by=by, reason=f"granted on application {application}")


def _grant_link(row: ApplicationLink, licences: Mapping[str, Licence], terms: Grant, by: Author) -> None:
    """The channels of one link, each with its return channel, and the link with its stations licensed."""
    made: dict[int, LicensedChannel] = {}
    for kept in row.filed.all():
        granted = terms.channels[kept.pk]
        channel = _channel(row.link, kept, granted, licences[granted.licence_number or terms.number], terms)
        channel.paired_with = _return_channel(kept, row.filed.all(), made)
        try:
            made[kept.pk] = record.create(channel, by=by)
        except ValidationError as error:
            said = as_register_error(error)
            raise RegisterError(
                f"{row.link.code}/{kept.label}: {said.message}", field=f"station-{kept.pk}-{said.field}"
            ) from error
        kept.licensed_channel = made[kept.pk]
        record.change(kept, by=by)
    _license(row.link, {kept.station_id: made[kept.pk] for kept in row.filed.all()}, by, row.application)


def _channel(
    link: Link, kept: FiledStation, granted: GrantedChannel, licence: Licence, terms: Grant
) -> LicensedChannel:
    figures = StationFigures.from_json(kept.figures)
    return LicensedChannel(
        licence=licence,
        label=f"{link.code} {kept.label}"[:40],
        site_id=figures.site_id,
        latitude_deg=figures.latitude_deg,
        longitude_deg=figures.longitude_deg,
        tolerance_m=terms.tolerance_m,
        frequency_hz=granted.frequency_hz,
        channel_width_hz=granted.channel_width_hz,
        emission_designators=list(granted.emission_designators),
        power_limit_dbm=granted.power_limit_dbm,
        power_kind=granted.power_kind,
        antenna_height_max_m=granted.antenna_height_max_m,
        azimuth_deg=granted.azimuth_deg,
        azimuth_tolerance_deg=granted.azimuth_tolerance_deg,
        polarisation=granted.polarisation,
    )


def _return_channel(
    kept: FiledStation, filed: Iterable[FiledStation], made: Mapping[int, LicensedChannel]
) -> LicensedChannel | None:
    """The channel, of those made so far, that sends what this station hears."""
    hears = StationFigures.from_json(kept.figures).rx_frequency_hz
    return next(
        (
            made[other.pk]
            for other in filed
            if other.pk in made and StationFigures.from_json(other.figures).tx_frequency_hz == hears
        ),
        None,
    )


def _license(
    link: Link, channels: Mapping[int | None, LicensedChannel], by: Author, application: Application
) -> None:
    stations = list(Station.objects.filter(link=link).select_related("link", "site", "mode", "radio_type"))
    for station in stations:
        station.licensed_channel = channels.get(station.pk, station.licensed_channel)
    link.reserved_until = None
    if link.status in Link.RESERVING:
        link.status = Link.Status.GRANTED
    save_link(
        link, stations, by=by, expected_version=link.version, reason=f"Granted on application {application}."
    )
