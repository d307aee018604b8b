"""Recording what was found at stations, and reading the latest for the checks."""

from __future__ import annotations

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.db.models import Q

from sites.errors import RegisterError
from sites.models import Document
from sites.services import acts, jobs, record
from sites.services.documents import attach, new_document
from sites.services.record import Author
from spectrum.conflicts.as_built import AsFound
from spectrum.conflicts.site_checks import Equipment
from spectrum.models import CommissioningRecord


def record_found(
    found: CommissioningRecord,
    *,
    by: Author,
    expected_version: int | None = None,
    photo: UploadedFile | None = None,
) -> CommissioningRecord:
    """Enter or correct what was found at a station, with a photo of it, and queue the check of its link."""
    with acts.act(), transaction.atomic():
        if found._state.adding:
            record.create(found, by=by)
        else:
            record.change(found, by=by, expected_version=expected_version)
        link = found.station.link_id
        jobs.submit("check_link", {"link": link}, by=by.person, same_as=f"check_link:{link}")
        if photo is not None:
            _attach_photo(found, photo, by)
    return found


def _attach_photo(found: CommissioningRecord, photo: UploadedFile, by: Author) -> None:
    document = new_document(found, kind=Document.Kind.PHOTO, dated=found.found_on)
    try:
        attach(document, photo.chunks(), photo.name or "photo", by=by)
    except RegisterError as error:
        raise RegisterError(error.message, field="photo") from error


def latest_records(which: Q) -> dict[int, CommissioningRecord]:
    """The latest record of each station, by station; ``which`` limits the records."""
    rows = CommissioningRecord.objects.filter(which).select_related("station__link", "station__radio_type")
    return {row.station_id: row for row in rows.order_by("found_on", "id")}


def as_found(which: Q) -> dict[int, AsFound]:
    """The latest records as the checks see them, by station."""
    return {station: one_as_found(row) for station, row in latest_records(which).items()}


def one_as_found(row: CommissioningRecord) -> AsFound:
    """One record as the checks see it."""
    station, link, radio = row.station, row.station.link, row.station.radio_type
    return AsFound(
        station_id=row.station_id,
        found_on=row.found_on,
        found_by=row.found_by,
        **{name: getattr(row, name) for name in CommissioningRecord.FIGURES},
        required_round_trip_ms=link.required_round_trip_ms,
        required_bit_rate_kbps=link.required_bit_rate_kbps,
        equipment=Equipment(
            station.duplexer_isolation_db,
            station.antenna_spacing_m,
            station.antenna_spacing_vertical_m,
            radio.blocking_level_dbm,
            radio.transmitter_noise_dbc_per_hz,
            radio.third_order_intercept_dbm,
        ),
    )
