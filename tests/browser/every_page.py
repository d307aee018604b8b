"""One object of every kind in the demo, under the names that the table of addresses asks for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models import Model, Q, QuerySet
from django.test import Client
from django.urls import reverse

from licences.models import Application, Authority, Holder, Licence, LicensedChannel, Reminder, RenewalPolicy
from sites.models import AntennaType, Document, Job, Person, Site
from sites.services import documents, record
from sites.services.record import Author
from spectrum.demo.planted import STORY
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
    RadioMask,
    RadioMode,
    RadioType,
    RegulatorRecord,
    Variant,
)
from spectrum.services import variants
from spectrum.services.extracts import described, save_mapping
from tests.deploy.page_routes import PAGE_ROWS
from tests.spectrum.extracts.made import csv_bytes, description, row

#: Answered as data or as a file, not as a page.
FILES = {
    "map-data", "map-layers", "map-relief", "register-file", "link-commissioning-pdf", "document-file", "site-pack-pdf",
    "application-pdf", "application-csv", "application-xlsx", "extract-cases",
}  # fmt: skip
#: Parts of the map's page; they are looked over in it (tests/deploy/test_accessibility.py).
FRAGMENTS = {"map-site", "map-link", "map-place"}


#: What stands in for what a regulator's extract does not tell.
BAND = {
    "name": "UHF", "from_mhz": 400, "to_mhz": 470, "radio_type": "Ulmet 4", "mode": "12.5 kHz 4-FSK",
    "antenna_type": "Yagi 410, 8 elements", "tx_power_dbm": 30, "channel_width_khz": 12.5,
}  # fmt: skip


def _first(rows: QuerySet[Any] | type[Model], *args: Q, **values: Any) -> Any:
    """The first of its kind; the demo has one, or the page would not be looked at."""
    manager: Any = getattr(rows, "objects", rows)
    found = manager.filter(*args, **values).order_by("pk").first()
    assert found is not None, f"the demo has no such object: {rows}, {args}, {values}"
    return found


class DemoObjects:
    """Objects of the demo by the names of ``tests.small_register``; what it has none of is made here."""

    def __init__(self, person: Person, today: dt.date) -> None:
        link = Link.objects.get(code=STORY)
        channel = _first(LicensedChannel, licence__holder__own=True, stations__isnull=False)
        variant = variants.draw_up(
            Variant(name="Spring works", as_of=today + dt.timedelta(days=90)), by=person
        )
        planned = variants.retire_link(variant, link, by=person)
        variants.check_variant(variant.pk, by=person)
        self.near = _first(Finding, kind="intermodulation", gone_at=None).site
        self.unused_site = _first(Site)
        self.antenna_type, self.authority, self.policy = map(_first, (AntennaType, Authority, RenewalPolicy))
        self.plan, self.radio_type, self.mode, self.mask = map(
            _first, (ChannelPlan, RadioType, RadioMode, RadioMask)
        )
        self.other = _first(Holder, own=False)
        self.licence, self.go = channel.licence, channel
        self.link, self.variant, self.planned = link, variant, planned
        self.finding = _first(Finding, link=link, other_link__isnull=False, gone_at=None)
        self.check, self.found = _first(Check), _first(CommissioningRecord)
        self.application = _first(Application, state="filed")
        self.job, self.extract_job = _import_tried(person), _extract_tried(person)
        self.document = documents.attach(
            documents.new_document(self.near, kind=Document.Kind.LETTER, title="Lease of the mast"),
            [b"The mast is leased to the utility.\n"],
            "lease.txt",
            by=Author.of(person),
        )
        near, due = today + dt.timedelta(days=40), today + dt.timedelta(days=10)
        self.reminder = Reminder.objects.create(
            licence=self.licence, recipient=person, step="before_last_day", days_before=30,
            about_on=near, act_by=near, due_on=due, ready_on=due,
        )  # fmt: skip
        self.responsible = person
        entry = InterferenceEntry(link=link, began_on=today, observed="A carrier beside the channel.")
        self.interference = record.create(entry, by=Author.of(person))
        self.difference = _difference_found(self.licence)

    def __getattr__(self, name: str) -> Any:
        raise AssertionError(f"say in {__name__} which object of the demo stands for “{name}”")


def _difference_found(licence: Licence) -> Difference:
    """What a comparison with the authority's register would leave for a decision."""
    mapping = ExtractMapping(
        code="office", title="Extract of the radio office", authority=licence.authority,
        columns={name: name for name in REQUIRED},
        stand_ins={"bands": [BAND], "antenna_height_agl_m": 20, "polarisation": "V"},
    )  # fmt: skip
    mapping = record.create(mapping, by=Author.system("test"))
    run = ExtractRun.objects.create(
        mapping=mapping, mapping_version=1, file_name="office.csv", sha256="0" * 64, by_name="test",
        as_of=dt.date(2026, 11, 25), row_count=0,
    )  # fmt: skip
    row = RegulatorRecord.objects.create(
        mapping=mapping, kind="licence", key=licence.number, label=str(licence), own=True, object_id=licence.pk,
        now={"expires_on": "2027-12-31"}, row=2, first_run=run,
    )  # fmt: skip
    return Difference.objects.create(
        record=row, run=run, what="changed", field="expires_on", register="2028-12-31", now="2027-12-31"
    )


def _import_tried(person: Person) -> Job:
    """A table brought in as a trial, with one row that changes a site and one that cannot be read."""
    client = Client()
    client.force_login(person)
    site = _first(Site)
    rows = f"code,name,latitude_deg,longitude_deg\n{site.code},Renamed,,\nNEW-1,,north,\n"
    file = SimpleUploadedFile("sites.csv", rows.encode(), content_type="text/csv")
    client.post(reverse("import-tables"), {"file": file, "table": ""})
    return _first(Job, kind="import_tables")


def _extract_tried(person: Person) -> Job:
    """An extract brought in as a trial: a path with a length that cannot be, and what is new."""
    save_mapping(described(description()), by=Author.of(person))
    client = Client()
    client.force_login(person)
    content = csv_bytes(row(), row(Number="F-101", MHz="6020.5", Km="90"))
    file = SimpleUploadedFile("valley.csv", content, content_type="text/csv")
    client.post(reverse("extract-import"), {"file": file, "mapping": "valley_fixed"})
    return _first(Job, kind="import_extract")


def addresses(objects: DemoObjects) -> Iterator[tuple[str, str]]:
    """Name and address of every row of the table that can be read."""
    special: dict[str, Callable[[], list[Any]]] = {
        "extract-trial": lambda: [objects.extract_job.pk],
        "extract-cases": lambda: [objects.extract_job.pk],
        "variant-finding": lambda: [
            objects.variant.pk,
            variants.findings_of(objects.variant).values_list("pk", flat=True)[0],
        ],
    }
    for name, may, arguments, _body in PAGE_ROWS:
        if "GET" in may:
            yield name, reverse(name, args=special[name]() if name in special else arguments(objects))  # type: ignore[arg-type]


def further_addresses() -> Iterator[str]:
    """The same pages in the states that show more: one finding of each kind, hits, filters, the other applications."""
    for kind in (
        Finding.objects.filter(gone_at=None).order_by("kind").values_list("kind", flat=True).distinct()
    ):
        found = Finding.objects.filter(kind=kind, gone_at=None).order_by("rank", "margin")[0]
        yield reverse("finding", args=[found.pk])
    for application in Application.objects.exclude(state="filed").order_by("pk"):
        yield reverse("application", args=[application.pk])
    yield from (
        "/search/?q=U41",
        "/search/?q=415.00625",
        "/search/?q=nothing-at-all",
        "/links/add/?kind=ptmp",
    )
    yield from ("/links/?q=U41&sort=-code", "/sites/?q=nothing-at-all", "/no-such-page/")
    hub = _first(Link, kind="ptmp")
    yield from (reverse(name, args=[hub.pk]) for name in ("link", "link-change", "link-commissioning"))


#: Forms that come back when they are sent as they open, with what is missing beside its field.
FORMS = ("link-add", "site-add", "licence-add", "application-add", "application-grant", "radio-type-add")
