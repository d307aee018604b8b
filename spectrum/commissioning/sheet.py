"""What the commissioning sheet of a link says, as text: the page and the PDF print the same."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from django.db.models import Q, prefetch_related_objects
from django.utils.translation import gettext

from licences.limits import Allowance
from sites.positions import format_dms
from sites.reading import written_day
from sites.saying import said
from sites.templatetags.figures import NOT_KNOWN, brief, fixed, khz, mhz, power_both
from spectrum.conflicts.as_built import as_built_findings
from spectrum.conflicts.budget import noise_of, wanted_levels
from spectrum.conflicts.criteria import limits_of
from spectrum.conflicts.evidence import Row
from spectrum.conflicts.gather import criteria_in_force, one_link, terrain_in_force
from spectrum.conflicts.kinds import KINDS, LICENCE_LIMITS, MUST_FIX
from spectrum.conflicts.licence_checks import NO_LICENCE, licence_findings
from spectrum.conflicts.network import StationRecord
from spectrum.conflicts.site_checks import Equipment
from spectrum.conflicts.site_checks.coupling import isolation_of_itself_db
from spectrum.conflicts.site_checks.duplex import isolation_needs
from spectrum.models import Finding, Link, Station
from spectrum.services.commissioning import latest_records, one_as_found
from spectrum.wording import headline_of

from .exposure import exposure_lines
from .power import PowerSetting, PowerSteps, power_setting
from .recorded import Recorded, recorded
from .words import Line

SHOWN_FINDINGS = 5


@dataclass(frozen=True)
class End:
    """One station of the sheet."""

    station: Station
    heading: str
    sends: str
    hears: str
    settings: list[Line]
    power: PowerSetting | None
    isolation: list[Line]
    exposure: list[Line]
    expected: list[Line]
    recorded: Recorded | None = None

    @property
    def power_text(self) -> str:
        """The power to set in words."""
        if self.power is None:
            return gettext("does not transmit")
        if self.power.set_dbm is None:
            return gettext("none")
        return power_both(self.power.set_dbm)


@dataclass(frozen=True)
class Sheet:
    """The sheet of one link on one day. ``reasons`` say why it is not to be switched on; none: nothing known."""

    link: Link
    heading: str
    made_on: dt.date
    reasons: list[str]
    open_findings: list[str]
    ends: list[End] = field(default_factory=list)

    @property
    def warning(self) -> str:
        """The first line of the sheet and of every page of it; empty where nothing is known against it."""
        return (
            gettext("Not to be switched on: {reasons}").format(reasons=" ".join(self.reasons))
            if self.reasons
            else ""
        )


def commissioning_sheet(
    link: Link, stations: Sequence[Station], findings: Sequence[Finding], today: dt.date
) -> Sheet:
    """The sheet of a link. ``stations`` in the order to be printed, ``findings`` those that stand about the link."""
    network, criteria = one_link(link, today), criteria_in_force()
    records = {record.id: record for record in network.stations}
    number = {record.id: n for n, record in enumerate(network.stations)}
    limits = limits_of(network.rx_hz / 1e6, network.authority, criteria)
    wanted = wanted_levels(network, limits, criteria, terrain_in_force(), np.flatnonzero(network.rx_hz > 0))
    noise = noise_of(network) if len(network) else None
    against = [
        said(draft.headline)
        for draft in licence_findings(network, criteria, link_id=link.pk)
        if draft.severity == MUST_FIX
        and KINDS[draft.kind].group == LICENCE_LIMITS
        and draft.kind != "station_without_licence"
    ]
    rows = latest_records(Q(station__link=link))
    prefetch_related_objects(list(rows.values()), "documents")
    drafts = as_built_findings(
        network, criteria, {pk: one_as_found(row) for pk, row in rows.items()}, terrain_in_force()
    )
    ends = []
    for station in stations:
        record, at = records[station.pk], number[station.pk]
        equipment, power = _equipment(station), _power(station, record)
        needs = isolation_needs(network, noise, limits, at, equipment) if noise and _duplex(record) else []
        expected = _expected(record, station, stations, float(wanted[at]))
        ends.append(
            End(
                station=station,
                heading=f"{station.get_role_display()}: {station.site.code} {station.site.name}".strip(),
                sends=mhz(record.tx_frequency_hz),
                hears=mhz(record.rx_frequency_hz),
                settings=_settings(station, record),
                power=power,
                isolation=_isolation(
                    record,
                    equipment,
                    needs,
                    isolation_of_itself_db(network, at, equipment),
                ),
                exposure=exposure_lines(record, power),
                expected=expected,
                recorded=None
                if station.pk not in rows
                else recorded(
                    rows[station.pk],
                    record,
                    expected[0].value if expected else NOT_KNOWN,
                    f"{fixed(max(need for need, _, _ in needs), 1)} dB" if needs else NOT_KNOWN,
                    [draft for draft in drafts if draft.parties.station_label == station.label],
                ),
            )
        )
    return Sheet(
        link=link,
        heading=gettext("Link {link}").format(link=f"{link.code}, {link.name}" if link.name else link.code),
        made_on=today,
        reasons=_sentences([*_standing(link), *_without_licence(stations, records, today), *against]),
        open_findings=_sentences(
            [headline_of(f) for f in findings if f.severity == MUST_FIX and f.accepted_at is None][
                :SHOWN_FINDINGS
            ]
        ),
        ends=ends,
    )


def _sentences(texts: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(text if text.endswith(".") else f"{text}." for text in texts))


def _standing(link: Link) -> list[str]:
    if not link.holder.own:
        return [gettext("It is a link of {holder}, not ours").format(holder=link.holder.name)]
    if link.status in (Link.Status.LAPSED, Link.Status.RETIRED):
        return [gettext("The status of the link is “{status}”").format(status=link.get_status_display())]
    return []


def _without_licence(
    stations: Sequence[Station], records: dict[int, StationRecord], today: dt.date
) -> list[str]:
    """Stations that no licensed channel allows to transmit on the day of the sheet, whatever the link's status."""
    found = []
    for station in stations:
        record = records[station.pk]
        if record.tx_frequency_hz is None:
            continue
        if record.channel is None:
            found.append(gettext("{station} has no licensed channel").format(station=record.name))
        elif (state := record.channel.standing(today)) in NO_LICENCE:
            found.append(
                gettext("{channel} is {state}").format(channel=record.channel.name, state=state.words)
            )
        elif record.channel.in_force_from > today:
            found.append(
                gettext("{channel} is in force from {in_force_from}, not before").format(
                    channel=record.channel.name, in_force_from=written_day(record.channel.in_force_from)
                )
            )
        elif record.channel.last_day < today:
            found.append(
                gettext("{channel} ended on {last_day}").format(
                    channel=record.channel.name, last_day=written_day(record.channel.last_day)
                )
            )
        elif not record.channel.licence.own:
            found.append(gettext("{channel} is not a licence of ours").format(channel=record.channel.name))
        elif record.channel.allowance.power_limit_dbm is None:
            found.append(gettext("{channel} states no power limit").format(channel=record.channel.name))
    return found


def _duplex(record: StationRecord) -> bool:
    """Whether it transmits and receives at once, on two frequencies."""
    return bool(
        record.tx_frequency_hz and record.rx_frequency_hz and record.tx_frequency_hz != record.rx_frequency_hz
    )


def _equipment(station: Station) -> Equipment:
    radio = station.radio_type
    return Equipment(
        station.duplexer_isolation_db,
        station.antenna_spacing_m,
        station.antenna_spacing_vertical_m,
        radio.blocking_level_dbm,
        radio.transmitter_noise_dbc_per_hz,
        radio.third_order_intercept_dbm,
    )


def _power(station: Station, record: StationRecord) -> PowerSetting | None:
    if record.tx_frequency_hz is None or record.tx_power_dbm is None:
        return None
    return power_setting(
        record.tx_power_dbm,
        record.channel.allowance if record.channel is not None else None,
        line_losses_db=record.line_losses_db,
        antenna_gain_dbi=record.antenna.gain_dbi,
        steps=PowerSteps(
            station.radio_type.power_min_dbm,
            station.radio_type.power_max_dbm,
            station.radio_type.power_step_db,
        ),
    )


def _settings(station: Station, record: StationRecord) -> list[Line]:
    mode, site = station.mode, station.site
    allowed = record.channel.allowance if record.channel is not None else None
    return [
        Line(
            gettext("licensed channel"),
            record.channel.name if record.channel is not None else gettext("none"),
        ),
        Line(gettext("radio and mode"), f"{station.radio_type.name}, {mode.label}"),
        Line(gettext("transmit frequency"), f"{mhz(record.tx_frequency_hz)} MHz", _half(record)),
        Line(
            gettext("receive frequency"),
            f"{mhz(record.rx_frequency_hz)} MHz",
            gettext("what the other end transmits"),
        ),
        Line(gettext("channel width"), f"{khz(mode.channel_width_hz)} kHz", _licensed_width(allowed)),
        Line(
            gettext("occupied bandwidth, at most"),
            _occupied_limit(allowed),
            gettext("the mode occupies {bandwidth_khz} kHz; emission {designator}").format(
                bandwidth_khz=khz(mode.occupied_bandwidth_hz),
                designator=mode.emission_designator,
            ),
        ),
        Line(
            gettext("modulation"),
            mode.modulation,
            gettext("{bit_rate_kbps} kbit/s, code rate {code_rate}").format(
                bit_rate_kbps=fixed(mode.bit_rate_kbps, 1), code_rate=brief(mode.code_rate)
            ),
        ),
        Line(gettext("polarisation"), station.get_polarisation_display()),
        Line(gettext("antenna"), station.antenna_type.name, f"{fixed(record.antenna.gain_dbi, 1)} dBi"),
        Line(
            gettext("antenna height"),
            gettext("{height_m} m above ground").format(height_m=fixed(record.antenna_height_agl_m, 1)),
        ),
        Line(
            gettext("azimuth"),
            NOT_KNOWN
            if record.azimuth_deg is None
            else gettext("{azimuth_deg}° from true north").format(azimuth_deg=fixed(record.azimuth_deg, 1)),
            gettext("as entered") if record.azimuth_entered else gettext("toward the other end"),
        ),
        Line(gettext("tilt"), f"{fixed(record.tilt_deg, 1)}°", gettext("up is positive")),
        Line(
            gettext("feeder and duplexer loss"),
            gettext("{feeder_loss_db} dB and {duplexer_loss_db} dB").format(
                feeder_loss_db=fixed(station.feeder_loss_db, 1),
                duplexer_loss_db=fixed(station.duplexer_loss_db, 1),
            ),
        ),
        Line(
            gettext("position, degrees (WGS 84)"),
            f"{fixed(site.latitude_deg, 5)} {fixed(site.longitude_deg, 5)}",
        ),
        Line(gettext("position, degrees minutes seconds"), format_dms(site.latitude_deg, site.longitude_deg)),
        Line(gettext("ground above sea level"), f"{fixed(site.ground_height_m, 1)} m"),
    ]


def _half(record: StationRecord) -> str:
    if not _duplex(record):
        return ""
    higher = (record.tx_frequency_hz or 0) > (record.rx_frequency_hz or 0)
    return (
        gettext("this end transmits HIGH and receives low")
        if higher
        else gettext("this end transmits LOW and receives high")
    )


def _licensed_width(allowed: Allowance | None) -> str:
    return (
        ""
        if allowed is None
        else gettext("licensed {width_khz} kHz").format(width_khz=khz(allowed.channel_width_hz))
    )


def _occupied_limit(allowed: Allowance | None) -> str:
    if allowed is None:
        return NOT_KNOWN
    if allowed.occupied_bandwidth_hz is not None:
        return f"{khz(allowed.occupied_bandwidth_hz)} kHz"
    return gettext("{width_khz} kHz (the licensed channel)").format(width_khz=khz(allowed.channel_width_hz))


def _isolation(
    record: StationRecord,
    equipment: Equipment,
    needs: list[tuple[float, str, list[Row]]],
    found_db: float,
) -> list[Line]:
    if not _duplex(record):
        return []
    lines = [
        Line(gettext("duplexer isolation"), _or_unknown(equipment.duplexer_isolation_db, "dB")),
        Line(
            gettext("spacing of separate antennas"),
            gettext("horizontal {horizontal}, vertical {vertical}").format(
                horizontal=_or_unknown(equipment.spacing_m, "m"),
                vertical=_or_unknown(equipment.spacing_vertical_m, "m"),
            ),
        ),
        Line(
            gettext("isolation found in the register"),
            NOT_KNOWN if np.isnan(found_db) else f"{fixed(found_db, 1)} dB",
            gettext("with spacings it is an estimate: measure it")
            if equipment.spacing_m or equipment.spacing_vertical_m
            else "",
        ),
    ]
    lines += [
        Line(
            gettext("isolation needed against {what}").format(what=said(what)),
            f"{fixed(needed, 1)} dB",
            gettext("at the planned power"),
        )
        for needed, what, _ in needs
    ]
    if len(needs) < 2:
        lines.append(
            Line(
                gettext("isolation needed"),
                gettext("not known in full"),
                gettext("the radio type lacks figures for it"),
            )
        )
    return lines


def _or_unknown(value: float | None, unit: str) -> str:
    return gettext("not entered") if value is None else f"{fixed(value, 1)} {unit}"


def _expected(
    record: StationRecord, station: Station, stations: Sequence[Station], wanted_dbm: float
) -> list[Line]:
    """What the register predicts, to be held against what is measured."""
    if record.rx_frequency_hz is None:
        return []
    threshold = station.mode.receiver_threshold_dbm
    known = not np.isnan(wanted_dbm)
    lines = [
        Line(
            gettext("received level, median"),
            f"{fixed(wanted_dbm, 1)} dBm" if known else gettext("could not be computed"),
            gettext("at the planned powers; at a hub the weakest remote")
            if station.role == Station.Role.HUB
            else gettext("at the planned powers"),
        ),
        Line(gettext("receiver threshold"), f"{fixed(threshold, 1)} dBm"),
    ]
    if known:
        lines.append(Line(gettext("margin over the threshold"), f"{fixed(wanted_dbm - threshold, 1)} dB"))
        lines += _bench_attenuation(station, stations, wanted_dbm)
    lines.append(Line(gettext("bit rate of the mode"), f"{fixed(station.mode.bit_rate_kbps, 1)} kbit/s"))
    return lines


def _bench_attenuation(station: Station, stations: Sequence[Station], wanted_dbm: float) -> list[Line]:
    senders = [s for s in stations if s.pk != station.pk and s.tx_frequency_hz == station.rx_frequency_hz]
    if len(senders) != 1:
        return []
    lowest = senders[0].radio_type.power_min_dbm
    return [
        Line(
            gettext("attenuation on the bench for that level"),
            f"{fixed(lowest - wanted_dbm, 1)} dB",
            gettext("from {sender} at its lowest power of {power}").format(
                sender=senders[0].label, power=power_both(lowest)
            ),
        )
    ]
