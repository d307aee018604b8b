"""`manage.py demo_network`: enters the demo once, whole or not at all, and never where it does not belong."""

from __future__ import annotations

import ast
import datetime as dt
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from deploy.bootstrap.running import ROOT
from licences.models import Holder
from sites.models import ChangeRecord, Person, Site
from sites.services import record
from spectrum.demo.people import PASSWORD, SIGN_INS
from spectrum.models import Link
from spectrum.roles import ROLES
from tests.made import TESTS, site

pytestmark = pytest.mark.django_db


def run(**options: Any) -> str:
    output = StringIO()
    call_command("demo_network", stdout=output, **options)
    return output.getvalue()


def test_it_says_what_it_made_and_who_may_sign_in(client: Client) -> None:
    output = run()
    assert "links with" in output
    assert PASSWORD in output
    for sign_in in SIGN_INS:
        assert f"{sign_in.username:8s} {sign_in.role}" in output
    assert {sign_in.role for sign_in in SIGN_INS} == set(ROLES)
    for sign_in in SIGN_INS:
        assert client.login(username=sign_in.username, password=PASSWORD)
        person = Person.objects.get(username=sign_in.username)
        assert [group.name for group in person.groups.all()] == [sign_in.role]
        assert person.is_staff == (sign_in.role == "administrator")
        assert not person.is_superuser


def test_a_second_run_keeps_what_a_person_entered() -> None:
    run()
    link = Link.objects.get(code="U41-301")
    link.name = "Named by a person"
    record.change(link, by=TESTS)
    before = (Link.objects.count(), ChangeRecord.objects.count())
    assert "stands already" in run()
    assert (Link.objects.count(), ChangeRecord.objects.count()) == before
    assert Link.objects.get(code="U41-301").name == "Named by a person"


def test_dates_count_from_the_day_given() -> None:
    run(as_of="2031-01-15")
    assert Link.objects.get(code="U41-231").reserved_until == dt.date(2031, 1, 24)


def test_a_register_that_uses_its_codes_gets_none_of_it() -> None:
    site("V40")
    with pytest.raises(CommandError, match="nothing of it was written"):
        run()
    assert Site.objects.count() == 1
    assert not Holder.objects.exists()
    assert not Person.objects.filter(username="petra").exists()


def test_it_is_refused_where_the_settings_do_not_allow_it(settings: Any) -> None:
    settings.DEMO_NETWORK_ALLOWED = False
    with pytest.raises(CommandError, match="DEMO_NETWORK_ALLOWED"):
        run()
    assert not Person.objects.exists()


def test_only_the_settings_of_demo_and_tests_allow_it() -> None:
    allowing = []
    for path in sorted((ROOT / "deploy" / "settings").glob("*.py")):
        names = {node.id for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Name)}
        if "DEMO_NETWORK_ALLOWED" in names:
            allowing.append(path.name)
    assert allowing == ["demo.py", "test.py"]


def test_a_day_that_is_none_is_named() -> None:
    with pytest.raises(CommandError, match="2026-06-01"):
        run(as_of="tomorrow")
