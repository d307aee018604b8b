"""A register of one link and all that hangs on it, and people of every role. Everything in it is invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import Group
from django.utils import timezone
from rest_framework.test import APIClient

from licences.models import Application, Authority, Holder, Licence, LicensedChannel, Reminder, RenewalPolicy
from sites.models import AntennaType, Document, Job, Person, Site
from sites.services import documents, record
from sites.services.record import Author
from spectrum.extracts.mapping import REQUIRED
from spectrum.models import (
    ChannelPlan,
    Check,
    CommissioningRecord,
    Difference,
    ExtractMapping,
    ExtractRun,
    Finding,
    InterferenceEntry,
    Link,
    PlannedChange,
    ProtectionCriterion,
    RadioMask,
    RadioMode,
    RadioType,
    RegulatorRecord,
    Station,
    Variant,
)
from spectrum.roles import ROLES, give_permissions
from spectrum.services import applications, variants
from spectrum.services.links import save_link

AUTHOR = Author.system("test")
TODAY = dt.date(2026, 11, 25)
PASSWORD = "a-long-enough-phrase"


def person_of_role(role: str, **values: Any) -> Person:
    """Somebody with one role, signed in by force_login or force_authenticate. The roles are there after any flush."""
    if not Group.objects.filter(name=role).exists():
        give_permissions()
    person = Person.objects.create_user(
        username=str(values.pop("username", role.replace(" ", "-"))), password=PASSWORD, **values
    )
    person.groups.add(Group.objects.get(name=role))
    return person


def people_of_every_role() -> dict[str, Person]:
    return {role: person_of_role(role, is_staff=role == "administrator") for role in ROLES}


@dataclass
class SmallRegister:
    """One object of every kind, by name."""

    near: Site
    far: Site
    unused_site: Site
    antenna_type: AntennaType
    authority: Authority
    policy: RenewalPolicy
    own: Holder
    other: Holder
    licence: Licence
    go: LicensedChannel
    back: LicensedChannel
    plan: ChannelPlan
    radio_type: RadioType
    mode: RadioMode
    mask: RadioMask
    criterion: ProtectionCriterion
    link: Link
    check: Check
    finding: Finding
    reminder: Reminder
    job: Job
    responsible: Person
    mapping: ExtractMapping
    run: ExtractRun
    variant: Variant
    planned: PlannedChange
    found: CommissioningRecord
    application: Application
    document: Document
    difference: Difference
    interference: InterferenceEntry


def site(code: str, latitude_deg: float = 47.1, longitude_deg: float = 11.2, **values: object) -> Site:
    return record.create(
        Site(
            code=code,
            name=f"Hill {code}",
            latitude_deg=latitude_deg,
            longitude_deg=longitude_deg,
            position_typed=f"{latitude_deg}, {longitude_deg}",
            ground_height_m=600.0,
            structure_height_m=40.0,
            **values,
        ),
        by=AUTHOR,
    )


def link(
    code: str,
    near: Site,
    far: Site,
    mode: RadioMode,
    antenna_type: AntennaType,
    holder: Holder,
    **values: object,
) -> Link:
    """A planned point-to-point link on 451.0 / 461.0 MHz."""
    ends = [
        ("A", Station.Role.A, near, 451_000_000, 461_000_000),
        ("B", Station.Role.B, far, 461_000_000, 451_000_000),
    ]
    stations = [
        Station(
            label=label,
            role=role,
            site=place,
            antenna_type=antenna_type,
            antenna_height_agl_m=20.0,
            radio_type=mode.radio_type,
            mode=mode,
            tx_power_dbm=30.0,
            tx_frequency_hz=tx,
            rx_frequency_hz=rx,
        )
        for label, role, place, tx, rx in ends
    ]
    link = Link(code=code, holder=holder, **values)
    return save_link(link, stations, by=AUTHOR, clashes_are_findings=True)


def small_register() -> SmallRegister:
    """Enter one object of every kind."""
    near, far, unused_site = site("S1"), site("S2", 47.2, 11.3), site("S3", 47.3, 11.4)
    antenna_type = record.create(
        AntennaType(
            name="Panel 10", gain_dbi=10, frequency_min_mhz=440, frequency_max_mhz=470, pattern="f1336_omni"
        ),
        by=AUTHOR,
    )
    authority = record.create(Authority(code="RA", name="Radio office"), by=AUTHOR)
    policy = record.create(RenewalPolicy(authority=authority), by=AUTHOR)
    own = record.create(Holder(name="Our utility", own=True), by=AUTHOR)
    other = record.create(Holder(name="Another party"), by=AUTHOR)
    responsible = Person.objects.create_user(username="responsible", email="responsible@example.org")
    licence = record.create(
        Licence(
            authority=authority,
            number="L-1",
            holder=own,
            responsible=responsible,
            granted_on=dt.date(2024, 1, 1),
            in_force_from=dt.date(2024, 1, 1),
            expires_on=dt.date(2028, 12, 31),
            while_undecided="ends",
        ),
        by=AUTHOR,
    )
    go, back = (
        record.create(
            LicensedChannel(
                licence=licence,
                label=label,
                site=place,
                tolerance_m=100,
                frequency_hz=frequency_hz,
                channel_width_hz=12_500,
                emission_designators=["11K0F1D"],
                power_limit_dbm=40,
            ),
            by=AUTHOR,
        )
        for label, place, frequency_hz in (("go", near, 451_000_000), ("return", far, 461_000_000))
    )
    plan = record.create(
        ChannelPlan(
            code="P1",
            name="Plan",
            first_go_hz=450_006_250,
            spacing_hz=12_500,
            channel_width_hz=12_500,
            channel_count=200,
            duplex_spacing_hz=10_000_000,
        ),
        by=AUTHOR,
    )
    radio_type = record.create(
        RadioType(name="Radio", tuning_min_mhz=440, tuning_max_mhz=470, power_min_dbm=20, power_max_dbm=40),
        by=AUTHOR,
    )
    mode = record.create(
        RadioMode(
            radio_type=radio_type,
            label="9.6",
            channel_width_hz=12_500,
            emission_designator="11K0F1D",
            occupied_bandwidth_hz=11_000,
            modulation="4CPFSK",
            bit_rate_kbps=9.6,
            receiver_threshold_dbm=-108,
            required_ci_db=15,
        ),
        by=AUTHOR,
    )
    mask = record.create(
        RadioMask(
            radio_type=radio_type,
            channel_width_hz=12_500,
            kind="emission",
            points=[[0, 0], [6.25, 0], [12.5, -60]],
            source="invented",
        ),
        by=AUTHOR,
    )
    criterion = record.create(
        ProtectionCriterion(
            name="UHF", authority=authority, frequency_min_mhz=440, frequency_max_mhz=470, source="invented"
        ),
        by=AUTHOR,
    )
    entered = link("K1", near, far, mode, antenna_type, own)
    now = timezone.now()
    check = Check.objects.create(
        scope="link", link=entered, as_of=TODAY, started_at=now, ended_at=now, model_version="test"
    )
    finding = Finding.objects.create(
        identity="f" * 64,
        kind="co_channel",
        severity="must_fix",
        rank=0,
        headline="K1/A is disturbed",
        margin=-3.0,
        margin_unit="dB",
        evidence=[{"name": "margin", "value": -3.0, "unit": "dB", "source": "invented", "role": "margin"}],
        link=entered,
        first_seen_at=now,
        last_seen_at=now,
    )
    reminder = Reminder.objects.create(
        licence=licence,
        recipient=responsible,
        step="before_last_day",
        days_before=30,
        about_on=dt.date(2028, 12, 31),
        act_by=dt.date(2028, 12, 31),
        due_on=dt.date(2028, 12, 1),
        ready_on=dt.date(2028, 12, 1),
    )
    job = Job.objects.create(kind="check_network", asked_by=responsible)
    mapping = record.create(
        ExtractMapping(
            code="office",
            title="Extract of the radio office",
            authority=authority,
            columns={field: field for field in REQUIRED},
            stand_ins={
                "bands": [
                    {
                        "name": "UHF",
                        "from_mhz": 440,
                        "to_mhz": 470,
                        "radio_type": "Radio",
                        "mode": "9.6",
                        "antenna_type": "Panel 10",
                        "tx_power_dbm": 30,
                        "channel_width_khz": 12.5,
                    }
                ],
                "antenna_height_agl_m": 20,
                "polarisation": "V",
            },
        ),
        by=AUTHOR,
    )
    run = ExtractRun.objects.create(
        mapping=mapping,
        mapping_version=1,
        file_name="office.csv",
        sha256="0" * 64,
        by_name="test",
        as_of=TODAY,
        row_count=0,
    )
    difference = Difference.objects.create(
        record=RegulatorRecord.objects.create(
            mapping=mapping,
            kind="licence",
            key="L-1",
            label=str(licence),
            own=True,
            object_id=licence.pk,
            now={"expires_on": "2027-12-31"},
            row=2,
            first_run=run,
        ),
        run=run,
        what="changed",
        field="expires_on",
        register="2028-12-31",
        now="2027-12-31",
    )
    variant = variants.draw_up(
        Variant(name="Spring works", as_of=TODAY + dt.timedelta(days=90)), by=responsible
    )
    planned = variants.retire_link(variant, entered, by=responsible)
    found = record.create(
        CommissioningRecord(
            station=entered.stations.order_by("pk")[0], found_on=TODAY, found_by="test", tx_power_dbm=30.0
        ),
        by=AUTHOR,
    )
    application = applications.draw_up(
        Application(number="A-1", authority=authority, holder=own), [], by=AUTHOR, today=TODAY
    )
    document = documents.attach(
        documents.new_document(near, kind=Document.Kind.LETTER, title="Lease of the hill"),
        [b"The hill is leased to the utility.\n"],
        "lease.txt",
        by=AUTHOR,
    )
    interference = record.create(
        InterferenceEntry(link=entered, began_on=TODAY, observed="A carrier beside the channel."), by=AUTHOR
    )
    return SmallRegister(
        near, far, unused_site, antenna_type, authority, policy, own, other, licence, go, back, plan, radio_type,
        mode, mask, criterion, entered, check, finding, reminder, job, responsible, mapping, run, variant, planned, found,
        application,
        document,
        difference,
        interference,
    )  # fmt: skip


def client_of(role: str) -> APIClient:
    """A caller of the API with one role."""
    client = APIClient()
    client.force_authenticate(Person.objects.filter(groups__name=role).first() or person_of_role(role))
    return client
