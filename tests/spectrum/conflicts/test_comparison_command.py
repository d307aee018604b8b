"""The command that shows on the live register that the search leaves nothing out."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from spectrum.demo.build import build
from spectrum.management.commands import compare_with_brute_force
from tests.made import TODAY

pytestmark = pytest.mark.django_db


def test_it_compares_the_register_and_random_networks_and_says_so() -> None:
    build(TODAY)
    out = StringIO()
    call_command("compare_with_brute_force", receivers=40, networks=4, stdout=out)
    register, random = out.getvalue().splitlines()
    assert register.startswith("The register: 40 of ")
    assert " 0 differences" in register
    assert random.startswith("Random networks: 4 with ")
    assert " 0 differences" in random


def test_a_difference_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compare_with_brute_force, "searched", lambda *args, **kwargs: {})
    err = StringIO()
    with pytest.raises(CommandError, match="the search is not complete"):
        call_command("compare_with_brute_force", networks=3, stdout=StringIO(), stderr=err)
    assert "only found by computing every pair" in err.getvalue()
