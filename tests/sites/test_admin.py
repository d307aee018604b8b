"""The administration pages: every object, every write recorded, refusals on the form and never a 500."""

from __future__ import annotations

from typing import Any

import pytest
from django.apps import apps
from django.contrib import admin
from django.test import Client
from django.urls import reverse

from sites.models import ChangeRecord, Job, Person, Registered, Site
from sites.services import record
from spectrum.roles import ADMINISTRATOR
from tests.admin_pages import what_it_sends, what_was_refused
from tests.made import TESTS, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
OWN = ("places", "licences", "spectrum")
WRITTEN_BY_THE_REGISTER = {
    "places.changerecord",
    "places.job",
    "licences.reminder",
    "licences.application",
    "licences.licenceevent",
    "spectrum.applicationlink",
    "spectrum.filedstation",
    "licences.remindersettings",
    "spectrum.check",
    "spectrum.finding",
    "spectrum.extractrun",
    "spectrum.regulatorrecord",
    "spectrum.difference",
    "spectrum.commissioningrecord",
    "places.document",
    "spectrum.interferenceentry",
    "spectrum.variant",
    "spectrum.plannedchange",
    "spectrum.variantcheck",
    "spectrum.variantfinding",
}


@pytest.fixture
def administrator() -> Person:
    return person_of_role(ADMINISTRATOR, username="ada", first_name="Ada", last_name="Lund", is_staff=True)


@pytest.fixture
def pages(client: Client, administrator: Person) -> Client:
    client.force_login(administrator)
    return client


def address(model: Any, page: str, *args: Any) -> str:
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{page}", args=args)


def last_change() -> ChangeRecord:
    entry = ChangeRecord.objects.first()
    assert entry is not None
    return entry


# A model without permissions is a worker's own bookkeeping (the shards of a run), not an object of the register.
OURS = [
    model
    for label in OWN
    for model in apps.get_app_config(label).get_models()
    if model._meta.default_permissions
]


@pytest.mark.parametrize("model", OURS, ids=lambda model: model._meta.label_lower)
class TestEveryObject:
    def test_it_has_a_list_and_a_form(self, admin_client: Client, model: Any) -> None:
        pages = admin_client
        assert pages.get(address(model, "changelist") + "?q=x").status_code == 200
        writable = model._meta.label_lower not in WRITTEN_BY_THE_REGISTER
        assert pages.get(address(model, "add")).status_code == (200 if writable else 403)

    def test_an_empty_form_is_refused_in_words(self, admin_client: Client, model: Any) -> None:
        if model._meta.label_lower in WRITTEN_BY_THE_REGISTER:
            assert admin_client.post(address(model, "add"), {}).status_code == 403
            return
        sent = {
            name: value
            for name, value in what_it_sends(admin_client.get(address(model, "add"))).items()
            if name.endswith(("_FORMS", "usable_password"))
        }
        assert what_was_refused(admin_client.post(address(model, "add"), sent))
        assert not model._default_manager.exclude(pk=getattr(Person.objects.first(), "pk", None)).exists()

    def test_what_the_register_writes_itself_is_only_read(self, model: Any, rf: Any) -> None:
        request = rf.get("/")
        request.user = Person(is_superuser=True, is_active=True)
        page = admin.site._registry[model]
        read_only = model._meta.label_lower in WRITTEN_BY_THE_REGISTER
        assert page.has_change_permission(request) is not read_only
        assert page.has_add_permission(request) is not read_only
        assert issubclass(model, Registered) or read_only or model is Person


class TestWriting:
    FIELDS = {
        "code": "S-1",
        "name": "Upper Fell",
        "position_typed": "50 07 24.5 N 24 33 10 E",
        "position_source": "survey",
        "structure": "lattice",
        "environment": "rural",
        "own": "on",
    }

    def test_what_is_entered_is_recorded_with_its_author(self, pages: Client, administrator: Person) -> None:
        answer = pages.post(address(Site, "add"), self.FIELDS)
        assert answer.status_code == 302, what_was_refused(answer)
        made = Site.objects.get()
        assert made.latitude_deg == pytest.approx(50 + 7 / 60 + 24.5 / 3600)
        entry = last_change()
        assert (entry.action, entry.by, entry.object_id) == ("create", administrator, made.pk)

    def test_what_is_changed_is_recorded_field_by_field(self, pages: Client) -> None:
        made = site("S-1", position_notation="decimal degrees")
        page = pages.get(address(Site, "change", made.pk))
        answer = pages.post(address(Site, "change", made.pk), what_it_sends(page) | {"name": "Lower Fell"})
        assert answer.status_code == 302, what_was_refused(answer)
        assert last_change().changes == {"name": ["Place S-1", "Lower Fell"]}
        made.refresh_from_db()
        assert made.version == 2

    def test_who_was_slower_is_told_who_was_faster_and_keeps_what_was_typed(self, pages: Client) -> None:
        made = site("S-1")
        sent = what_it_sends(pages.get(address(Site, "change", made.pk)))
        made.region = "north"
        record.change(made, by=TESTS)
        answer = pages.post(address(Site, "change", made.pk), sent | {"name": "Lower Fell"})
        assert "was changed by tests on" in what_was_refused(answer)
        assert answer.context["adminform"].form["name"].value() == "Lower Fell"
        made.refresh_from_db()
        assert (made.name, made.region) == ("Place S-1", "north")

    def test_a_wrong_value_is_refused_beside_its_field(self, pages: Client) -> None:
        answer = pages.post(address(Site, "add"), self.FIELDS | {"structure_height_m": "1200"})
        assert "Structure height must lie between 0 and 900 m." in what_was_refused(answer)
        assert not Site.objects.exists()

    def test_what_the_service_refuses_late_is_on_the_form(
        self, pages: Client, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """As when another request enters the same code between the form's check and the write."""
        create = record.create

        def somebody_is_faster(obj: Any, **how: Any) -> Any:
            if not Site.objects.filter(code=obj.code).exists():
                monkeypatch.undo()
                site(obj.code)
            return create(obj, **how)

        monkeypatch.setattr(record, "create", somebody_is_faster)
        answer = pages.post(address(Site, "add"), self.FIELDS)
        assert "is in the register already; choose another" in what_was_refused(answer)

    def test_what_is_removed_is_recorded(self, pages: Client) -> None:
        made = site("S-1")
        answer = pages.post(address(Site, "delete", made.pk), {"post": "yes"})
        assert answer.status_code == 302
        assert not Site.objects.exists()
        assert (last_change().action, last_change().object_id) == ("remove", made.pk)

    def test_many_removed_at_once_are_each_recorded(self, pages: Client) -> None:
        ids = [site(f"S-{n}").pk for n in range(3)]
        answer = pages.post(
            address(Site, "changelist"),
            {"action": "delete_selected", "_selected_action": ids, "post": "yes"},
        )
        assert answer.status_code == 302
        assert set(ChangeRecord.objects.filter(action="remove").values_list("object_id", flat=True)) == set(
            ids
        )

    def test_the_change_record_cannot_be_removed(self, pages: Client) -> None:
        site("S-1")
        entry = last_change()
        assert pages.post(address(ChangeRecord, "delete", entry.pk), {"post": "yes"}).status_code == 403
        assert pages.get(address(ChangeRecord, "change", entry.pk)).status_code == 200

    def test_a_job_can_be_read(self, pages: Client) -> None:
        job = Job.objects.create(kind="check_network")
        answer = pages.get(address(Job, "change", job.pk))
        assert answer.status_code == 200


class TestPeople:
    FIELDS = {
        "username": "mira",
        "usable_password": "true",
        "password1": "a-long-enough-phrase",
        "password2": "a-long-enough-phrase",
        "first_name": "Mira",
        "last_name": "Holt",
        "email": "mira@tarn.example",
        "language": "en",
        "formats": "iso",
        "power_unit": "dBm",
        "time_zone": "Europe/Vienna",
        "is_active": "on",
    }

    def planner(self) -> int:
        person_of_role("planner", username="somebody")
        return Person.objects.get(username="somebody").groups.get().pk

    def test_a_new_person_and_their_role_are_recorded(self, pages: Client, administrator: Person) -> None:
        answer = pages.post(address(Person, "add"), self.FIELDS | {"groups": [self.planner()]})
        assert answer.status_code == 302, what_was_refused(answer)
        mira = Person.objects.get(username="mira")
        assert mira.check_password("a-long-enough-phrase")
        roles, made = ChangeRecord.objects.filter(object_type="places.person", object_id=mira.pk)
        assert (made.action, made.by) == ("create", administrator)
        assert roles.changes == {"roles": [[], ["planner"]]}
        assert "password" not in made.changes

    def test_a_change_of_role_and_leaving_are_recorded(self, pages: Client) -> None:
        mira = person_of_role("planner", username="mira", email="mira@tarn.example")
        sent = what_it_sends(pages.get(address(Person, "change", mira.pk)))
        del sent["is_active"], sent["groups"]
        answer = pages.post(address(Person, "change", mira.pk), sent)
        assert answer.status_code == 302, what_was_refused(answer)
        mira.refresh_from_db()
        assert not mira.is_active
        roles, left = ChangeRecord.objects.filter(object_type="places.person", object_id=mira.pk)[:2]
        assert roles.changes == {"roles": [["planner"], []]}
        assert left.changes == {"is_active": [True, False]}

    def test_a_password_set_anew_is_recorded_without_it(self, pages: Client) -> None:
        mira = person_of_role("planner", username="mira")
        fields = {
            "usable_password": "true",
            "password1": "another-long-phrase",
            "password2": "another-long-phrase",
        }
        answer = pages.post(reverse("admin:auth_user_password_change", args=[mira.pk]), fields)
        assert answer.status_code == 302
        mira.refresh_from_db()
        assert mira.check_password("another-long-phrase")
        assert last_change().changes == {"password": ["", "set anew"]}

    def test_a_password_that_is_refused_records_nothing(self, pages: Client) -> None:
        mira = person_of_role("planner", username="mira")
        fields = {"usable_password": "true", "password1": "short", "password2": "short"}
        answer = pages.post(reverse("admin:auth_user_password_change", args=[mira.pk]), fields)
        assert answer.status_code == 200
        assert not ChangeRecord.objects.filter(object_type="places.person").exists()

    def test_an_unknown_time_zone_is_refused(self, pages: Client) -> None:
        answer = pages.post(address(Person, "add"), self.FIELDS | {"time_zone": "Vienna"})
        assert "“Vienna” is not a known time zone" in what_was_refused(answer)

    def test_nobody_is_removed(self, pages: Client) -> None:
        mira = person_of_role("planner", username="mira")
        assert pages.post(address(Person, "delete", mira.pk), {"post": "yes"}).status_code == 403

    def test_an_administrator_cannot_take_over_a_superuser(self, pages: Client) -> None:
        root = Person.objects.create_superuser("root", "root@tarn.example", "a-long-enough-phrase")
        fields = {
            "usable_password": "true",
            "password1": "another-long-phrase",
            "password2": "another-long-phrase",
        }
        answer = pages.post(reverse("admin:auth_user_password_change", args=[root.pk]), fields)
        assert answer.status_code == 403
        assert pages.post(address(Person, "change", root.pk), {"username": "root"}).status_code == 403

    def test_an_administrator_cannot_make_a_superuser(self, pages: Client) -> None:
        mira = person_of_role("planner", username="mira")
        sent = what_it_sends(pages.get(address(Person, "change", mira.pk)))
        pages.post(
            address(Person, "change", mira.pk), sent | {"is_superuser": "on", "user_permissions": ["1"]}
        )
        mira.refresh_from_db()
        assert not mira.is_superuser
        assert not mira.user_permissions.exists()


def test_a_role_without_staff_does_not_get_in(client: Client) -> None:
    client.force_login(person_of_role("planner"))
    assert client.get(address(Site, "changelist")).status_code == 302
