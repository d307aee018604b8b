"""Invented people, an authority and licences to be reminded of. The days were counted with a calendar."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import Group

from licences.models import Authority, Holder, Licence, RenewalPolicy
from sites.models import Person
from sites.services import record
from tests.licences.reminders.made import BY, EXPIRES, POLICY, Server


@pytest.fixture
def mira() -> Person:
    return Person.objects.create_user("mira", "mira@tarn.example", first_name="Mira", last_name="Holt")


@pytest.fixture
def manager() -> Person:
    person = Person.objects.create_user("odd", "odd@tarn.example", first_name="Odd", last_name="Berg")
    person.groups.add(Group.objects.get_or_create(name="manager")[0])
    return person


@pytest.fixture
def authority() -> Authority:
    authority = record.create(Authority(code="SPA", name="Spectrum Authority"), by=BY)
    record.create(RenewalPolicy(authority=authority, **POLICY), by=BY)
    return authority


@pytest.fixture
def ours() -> Holder:
    return record.create(Holder(name="Tarn Valley Power", own=True), by=BY)


@pytest.fixture
def new_licence(authority: Authority, ours: Holder, mira: Person) -> Callable[..., Licence]:
    def new_licence(number: str = "4711", **fields: Any) -> Licence:
        values: dict[str, Any] = {
            "authority": authority,
            "holder": ours,
            "responsible": mira,
            "granted_on": dt.date(2020, 1, 1),
            "in_force_from": dt.date(2020, 1, 1),
            "expires_on": EXPIRES,
            **fields,
        }
        return record.create(Licence(number=number, **values), by=BY)

    return new_licence


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Server:
    return Server(monkeypatch)
