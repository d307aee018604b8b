"""Files of tables brought in: what is wrong is named by row and column, all or nothing, once more changes nothing."""

from __future__ import annotations

import io
import uuid
import zipfile
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from openpyxl import Workbook

from sites.errors import NotAllowedError, RegisterError, StaleWriteError
from sites.models import ChangeRecord, Job, Site
from sites.services import record
from sites.services.record import Author
from spectrum import tasks
from spectrum.interchange.files import LARGEST_FILE, write_archive, write_book
from spectrum.models import ImportFile, Link
from spectrum.services import interchange
from spectrum.services.interchange import Outcome, import_tables
from tests.made import TESTS, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
HEAD = "code,name,latitude_deg,longitude_deg,position_typed,structure,own"


def sites_csv(*rows: str, head: str = HEAD, encoding: str = "utf-8") -> bytes:
    return "\r\n".join([head, *rows, ""]).encode(encoding)


def tried(content: bytes, name: str = "sites.csv", **more: Any) -> Outcome:
    return import_tables(content, name, by=TESTS, **more)


def said(outcome: Outcome) -> list[str]:
    return [str(trouble) for trouble in outcome.drafted.troubles]


GOOD = "S-1,Öd,47.5,14.5,47.5 14.5,lattice,yes"


def test_a_trial_writes_nothing_and_the_import_writes_all() -> None:
    trial = tried(sites_csv(GOOD), dry_run=True)
    assert trial.drafted.counts() == {"sites": {"new": 1, "changed": 0, "same": 0}}
    assert not trial.written and not Site.objects.exists() and not ChangeRecord.objects.exists()

    assert tried(sites_csv(GOOD)).written
    stored = Site.objects.get()
    assert (stored.code, stored.name, stored.latitude_deg, stored.own) == ("S-1", "Öd", 47.5, True)
    assert ChangeRecord.objects.get().reason == "imported from sites.csv"

    again = tried(sites_csv(GOOD))
    assert again.drafted.counts()["sites"] == {"new": 0, "changed": 0, "same": 1}
    assert ChangeRecord.objects.count() == 1


def test_the_job_is_held_for_as_long_as_writing_may_last_and_only_then() -> None:
    """The writing is one transaction and cannot say how far it is; another worker must not take the job meanwhile."""

    class Watched:
        job_id = uuid.uuid4()
        asked_by = None

        def __init__(self) -> None:
            self.held: list[float] = []

        def step(self, done: int, total: int) -> None:
            assert not self.held  # nothing is said after it: that would shorten the time again

        def hold(self, seconds: float) -> None:
            self.held.append(seconds)

    rows = [f"S-{n},Hill {n},47.5,14.5,47.5 14.5,lattice,yes" for n in range(199)]
    kept = interchange.keep_file(sites_csv(*rows), "sites.csv", "", by=person_of_role("administrator"))
    for apply, held in ((False, []), (True, [200 / interchange.ROWS_WRITTEN_PER_S])):
        watched = Watched()
        tasks.import_tables({"file": kept.pk, "apply": apply}, watched)
        assert watched.held == held
    assert Site.objects.count() == 199


def test_a_row_of_a_known_key_changes_what_its_columns_name_and_nothing_else() -> None:
    site("S-1", 47.0, 14.0, notes="kept")
    tried(sites_csv("S-1,New name", head="code,name"))

    stored = Site.objects.get()
    assert (stored.name, stored.notes, stored.latitude_deg, stored.version) == ("New name", "kept", 47.0, 2)
    changed = ChangeRecord.objects.first()
    assert changed is not None
    assert changed.changes == {"name": ["Place S-1", "New name"]}


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ('S-2,N,"47,5",14,x,lattice,yes', "column latitude_deg: found “47,5”; expected a number with a decimal point"),
        ("S-2,N,47;5,14,x,lattice,yes", "column latitude_deg: found “47;5”; expected a number"),
        ("S-2,N,91,14,x,lattice,yes", "Latitude must lie between -90 and 90 degrees."),
        ("S-2,N,,14,x,lattice,yes", "column latitude_deg: the cell is empty; it needs a value."),
        ("S-2,N,47,14,x,castle,yes", "column structure: found “castle”; expected one of none, lattice"),
        ("S-2,N,47,14,x,lattice,perhaps", "column own: found “perhaps”; expected yes or no."),
        ("S-2,N,47,14,=A1+B1,lattice,yes", "column position_typed: found the formula “=A1+B1”"),
        ("S-2,N,#REF!,14,x,lattice,yes", "column latitude_deg: found the spreadsheet error #REF!"),
        (f"S-2,{'n' * 121},47,14,x,lattice,yes", "column name: found “nnn"),
        (GOOD, "the same code as in row 2"),
        ("S-2,N,47,14,x,lattice,yes,too many", "8 cells under 7 headings"),
        ("S-2,N,nan,14,x,lattice,yes", "column latitude_deg: found “nan”; expected a number"),
        ("S-2,N,1e999,14,x,lattice,yes", "column latitude_deg: found “1e999”"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named_by_row_and_column_and_nothing_is_written(row: str, sentence: str) -> None:
    outcome = tried(sites_csv(GOOD, row))

    assert not outcome.written and not Site.objects.exists()
    (trouble,) = said(outcome)
    assert trouble.startswith("sites, row 3")
    assert sentence in trouble


def test_powers_are_taken_in_watts_and_dbm_and_references_by_their_keys() -> None:
    register = Register()
    register.link("L-1", site("A"), site("B", 47.1))
    head = "link,label,tx_power_dbm,licensed_channel_licence_authority,licensed_channel_licence_number,licensed_channel_label"
    given = "\n".join([head, "L-1,A,10 W,,,", "L-1,B,43.5 dBm,,,"]).encode()
    assert tried(given, "stations.csv").written
    assert {s.tx_power_dbm for s in Link.objects.get().stations.all()} == {40.0, 43.5}
    assert Link.objects.get().version == 2, "the link has changed with its stations"

    wrong = "\n".join([head, "L-1,A,10 X,,,", "L-1,B,40,AUT,77,1", "L-9,B,40,,,"]).encode()
    assert said(tried(wrong, "stations.csv")) == [
        "stations, row 2, column tx_power_dbm: found “10 X”, neither watts nor dBm. Write 10 W or 40 dBm.",
        "stations, row 3, column licensed_channel_licence_authority: found “AUT 77 1”; there is no such licensed channel, "
        "neither in the register nor in licensed_channels of this file. Import it first, or correct it.",
        *[s for s in said(tried(wrong, "stations.csv")) if "row 4" in s],
    ]
    assert any(
        "row 4, column link: found “L-9”; there is no such link" in s
        for s in said(tried(wrong, "stations.csv"))
    )


def test_a_frequency_finer_than_a_hertz_and_an_unknown_column_are_refused() -> None:
    plan = (
        b"code,name,first_go_mhz,spacing_khz,channel_width_khz,channel_count,duplex_spacing_mhz\n"
        b"P,N,410.0000001,12.5,12.5,8,10\n"
    )
    assert "not finer than one hertz" in said(tried(plan, "channel_plans.csv"))[0]
    wrong = plan.replace(b"first_go_mhz", b"first_go_hz").replace(b"410.0000001", b"410000000")
    assert said(tried(wrong, "channel_plans.csv"))[0].endswith(
        "channel_plans has no such column. Is first_go_mhz meant?"
    )


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_usual_encodings_and_delimiters_are_read(encoding: str, delimiter: str) -> None:
    content = sites_csv(GOOD).decode().replace(",", delimiter).encode(encoding)
    outcome = tried(content)

    assert (said(outcome), outcome.notices, Site.objects.get().name) == ([], [], "Öd")


def test_an_older_encoding_is_read_with_a_sentence() -> None:
    outcome = tried(sites_csv(GOOD, encoding="cp1252"))

    assert Site.objects.get().name == "Öd"
    assert "read as windows-1252" in outcome.notices[0]


def archive(**files: str) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as made:
        for name, text in files.items():
            made.writestr(name.replace("_dot_", "."), text)
    return target.getvalue()


def book(**sheets: list[list[Any]]) -> bytes:
    made, target = Workbook(), io.BytesIO()
    made.remove(made.active)
    for title, rows in sheets.items():
        sheet = made.create_sheet(title)
        for row in rows:
            sheet.append(row)
    made.save(target)
    return target.getvalue()


@pytest.mark.parametrize(
    ("content", "name", "sentence"),
    [
        (b"", "sites.csv", "is empty"),
        (sites_csv(), "sites.csv", "no row below them"),
        (sites_csv(GOOD), "places.csv", "no table 'places'"),
        (b"PK\x03\x04 and then nothing", "a.xlsx", "cannot be unpacked"),
        (archive(readme_dot_txt="x"), "a.zip", "an archive of CSV files"),
        (book(Sheet1=[["code"], ["S-1"]]), "a.xlsx", "no table 'Sheet1'"),
        (sites_csv('S-1,"never closed'), "sites.csv", "quotation mark"),
        (b"\x00\x01\x02" * 99, "sites.csv", "bytes that are no text"),
        (b"x" * (LARGEST_FILE + 1), "sites.csv", "at most 10 MB"),
    ],
)
def test_a_file_without_tables_is_refused_with_a_sentence(content: bytes, name: str, sentence: str) -> None:
    with pytest.raises(RegisterError) as caught:
        tried(content, name)
    assert sentence in caught.value.message


def test_a_new_link_comes_with_its_stations_or_not_at_all() -> None:
    register = Register()
    register.link("L-1", site("A"), site("B", 47.1))
    target = io.BytesIO()
    write_archive(target)
    links = zipfile.ZipFile(target).read("links.csv").decode().replace("L-1", "L-2")

    assert "the new link L-2 has no stations" in said(tried(links.encode(), "links.csv"))[0]
    stations = zipfile.ZipFile(target).read("stations.csv").decode().replace("L-1", "L-2")
    assert tried(archive(links_dot_csv=links, stations_dot_csv=stations), "two.zip").written
    assert Link.objects.get(code="L-2").stations.count() == 2
    assert Job.objects.filter(kind="check_network").exists()


def test_whoever_was_first_in_the_meantime_refuses_the_whole_import(monkeypatch: pytest.MonkeyPatch) -> None:
    site("S-1")
    really = interchange._write

    def slow(*arguments: Any) -> None:
        mine = Site.objects.get(code="S-1")
        mine.name = "Somebody was faster"
        record.change(mine, by=Author.system("another"))
        really(*arguments)

    monkeypatch.setattr(interchange, "_write", slow)
    with pytest.raises(StaleWriteError):
        tried(sites_csv("S-1,Mine,47,14,x,lattice,yes", "S-2,Two,47,14,x,lattice,yes"))
    assert list(Site.objects.values_list("name", flat=True)) == ["Somebody was faster"]


def test_a_table_that_moves_the_line_for_everybody_needs_the_administrator() -> None:
    content = b"name,frequency_min_mhz,frequency_max_mhz,source\nX,400,500,made\n"
    registrar, administrator = person_of_role("registrar"), person_of_role("administrator")

    with pytest.raises(NotAllowedError, match="protection_criteria"):
        import_tables(content, "protection_criteria.csv", by=Author.of(registrar))
    assert import_tables(content, "protection_criteria.csv", by=Author.of(administrator)).written


def test_the_pages_lead_from_the_file_through_the_trial_to_the_register(
    django_capture_on_commit_callbacks: Any,
) -> None:
    client = Client()
    client.force_login(person_of_role("registrar"))

    def followed(name: str, sent: dict[str, Any], *arguments: Any) -> Any:
        with django_capture_on_commit_callbacks(execute=True):
            answer = client.post(reverse(name, args=arguments), sent)
        return client.get(answer["Location"]) if answer.status_code == 302 else answer

    def send(content: bytes) -> Any:
        file = io.BytesIO(content)
        file.name = "sites.csv"
        return followed("import-tables", {"file": file, "table": ""})

    refused = send(sites_csv("S-1,N,91,14,x,castle,yes")).content.decode()
    assert "must be corrected first. Nothing was written." in refused
    assert "“castle”" in refused and "Write all of it" not in refused
    trial = send(sites_csv(GOOD))
    assert "It would write 1 object; nothing is written yet." in trial.content.decode()
    assert not Site.objects.exists()
    assert trial.context["counts"] == [("sites", 1, 0, 0)]
    done = followed("import-apply", {}, trial.context["job"].pk)
    assert "Yes: 1 object written." in done.content.decode()
    assert Site.objects.get().code == "S-1"
    changed = send(sites_csv(GOOD.replace("Öd", "Neu"), GOOD.replace("S-1", "S-2")))
    assert changed.context["counts"] == [("sites", 1, 1, 0)]
    ImportFile.objects.filter(pk=changed.context["job"].payload["file"]).delete()
    assert ImportFile.objects.count() == 1, "the file that was written is no longer kept, the refused one is"
    assert send(b"no,table").status_code == 422


def test_the_register_can_be_taken_out_whole() -> None:
    site("S-1")
    client = Client()
    client.force_login(person_of_role("viewer"))
    answer = client.get(reverse("register-file", args=["xlsx"]))

    target = io.BytesIO()
    write_book(target)
    assert b"".join(answer.streaming_content)[:2] == b"PK"  # type: ignore[attr-defined]
    assert client.post(reverse("import-tables")).status_code == 403
