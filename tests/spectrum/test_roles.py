"""The roles stand in the database as the table of the project says."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import Group, Permission

from spectrum.roles import ROLES, give_permissions

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def roles_after_any_flush() -> None:
    if not Group.objects.exists():
        give_permissions()


def _of_group(name: str) -> set[str]:
    rows = Group.objects.get(name=name).permissions.select_related("content_type")
    return {f"{row.content_type.app_label}.{row.codename}" for row in rows}


def test_there_are_six_roles() -> None:
    assert set(Group.objects.values_list("name", flat=True)) == {
        "viewer", "field engineer", "planner", "registrar", "manager", "administrator",
    }  # fmt: skip


@pytest.mark.parametrize("role", ROLES)
def test_a_group_has_precisely_the_permissions_of_its_role(role: str) -> None:
    assert _of_group(role) == ROLES[role]


def test_every_permission_of_the_table_is_one_that_exists() -> None:
    stored = {
        f"{row.content_type.app_label}.{row.codename}"
        for row in Permission.objects.select_related("content_type")
    }
    assert frozenset().union(*ROLES.values()) <= stored


def test_what_each_role_adds_to_looking_things_up() -> None:
    """Typed by hand from the project's description of the roles, not computed from the table."""
    viewer = ROLES["viewer"]
    assert all(permission.split(".")[1].startswith("view_") for permission in viewer)
    assert ROLES["field engineer"] - viewer == {
        "spectrum.attach_link",
        "spectrum.add_commissioningrecord", "spectrum.change_commissioningrecord",
        "spectrum.add_interferenceentry", "spectrum.change_interferenceentry",
        "places.add_document", "places.change_document",
    }  # fmt: skip
    assert ROLES["manager"] - viewer == {
        "places.view_changerecord", "spectrum.accept_finding", "spectrum.check_network",
        "licences.answer_reminder",
    }  # fmt: skip
    planner = ROLES["planner"] - viewer
    assert {
        "places.add_site",
        "spectrum.add_link",
        "spectrum.change_station",
        "spectrum.accept_finding",
    } <= planner
    of_papers = {permission for permission in planner if permission.startswith("licences.")}
    assert of_papers == {"licences.add_application", "licences.change_application"}
    assert not any("delete_" in permission for permission in planner)
    registrar = ROLES["registrar"] - viewer
    assert {"licences.add_licence", "licences.delete_licensedchannel", "places.change_site"} <= registrar
    assert not any(permission.endswith(("_link", "_station")) for permission in registrar)


def test_only_the_administrator_sees_or_changes_people() -> None:
    with_people = {role for role, allowed in ROLES.items() if any("_person" in name for name in allowed)}
    assert with_people == {"administrator"}


@pytest.mark.parametrize("role", ROLES)
def test_nobody_may_write_into_the_change_record(role: str) -> None:
    assert not any(
        name.endswith("_changerecord") and not name.endswith("view_changerecord") for name in ROLES[role]
    )
