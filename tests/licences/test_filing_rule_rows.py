"""The rules on which change needs filing, typed in rows on the page of a renewal policy and in the administration."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from licences.forms.filing_rules import EMPTY_ROWS, FilingRulesWidget
from licences.models import RenewalPolicy
from sites.services import record
from tests.made import TESTS, Register
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
STORED = [
    {"quantity": "power", "more_than": 3, "needs": "new_grant", "source": "§ 4"},
    {"quantity": "polarisation", "more_than": 0, "needs": "notice", "source": ""},
]


@pytest.fixture
def policy() -> RenewalPolicy:
    Register()
    made = RenewalPolicy.objects.get()
    made.filing_rules = STORED
    return record.change(made, by=TESTS)


def shown(client: Client, address: str) -> tuple[dict[str, Any], Any]:
    """What a browser would send of the form as it comes, and the answer."""
    answer = client.get(address)
    form = answer.context["form"]
    sent = {field.html_name: field.value() for field in form if field.name != "filing_rules"}
    sent |= {name: ", ".join(map(str, value)) for name, value in sent.items() if isinstance(value, list)}
    return {name: value for name, value in sent.items() if value is not None and value is not False}, answer


def rows(*typed: dict[str, str]) -> dict[str, str]:
    sent = {"filing_rules-rows": str(len(typed))}
    for number, row in enumerate(typed):
        sent |= {f"filing_rules-{number}-{part}": value for part, value in row.items()}
    return sent


@pytest.fixture
def client() -> Client:
    signed_in = Client()
    signed_in.force_login(person_of_role("registrar"))
    return signed_in


def test_rules_are_shown_in_rows_with_empty_ones_after_them(client: Client, policy: RenewalPolicy) -> None:
    page = client.get(reverse("renewal-policy-change", args=[policy.pk])).content.decode()
    assert f'name="filing_rules-rows" value="{len(STORED) + EMPTY_ROWS}"' in page
    assert '<option value="power" selected>power (dB)</option>' in page
    assert "new_grant&quot;" not in page  # nothing is left of the stored form
    assert 'aria-label="Rule 1: by more than"' in page


def test_typed_rows_become_the_rules_and_empty_ones_are_left_out(
    client: Client, policy: RenewalPolicy
) -> None:
    address = reverse("renewal-policy-change", args=[policy.pk])
    sent, _ = shown(client, address)
    typed = rows(
        {"quantity": "antenna_height", "more_than": "2,5", "needs": "notice", "source": "§ 5"},
        {"quantity": "", "more_than": "", "needs": "new_grant", "source": ""},
        {"quantity": "emission", "more_than": "", "needs": "new_grant", "source": ""},
    )
    answer = client.post(address, {**sent, **typed})
    assert answer.status_code == 302, answer.context["form"].errors
    policy.refresh_from_db()
    assert policy.filing_rules == [
        {"quantity": "antenna_height", "more_than": 2.5, "needs": "notice", "source": "§ 5"},
        {"quantity": "emission", "more_than": 0, "needs": "new_grant", "source": ""},
    ]
    assert [rule.words for rule in policy.rules] == [
        "a change of antenna height by more than 2.5 m needs a notice",
        "a change of emission needs a new grant",
    ]


def test_what_cannot_be_read_is_said_by_the_number_of_its_row_and_kept(
    client: Client, policy: RenewalPolicy
) -> None:
    address = reverse("renewal-policy-change", args=[policy.pk])
    sent, _ = shown(client, address)
    typed = rows(
        {"quantity": "power", "more_than": "three", "needs": "notice", "source": ""},
        {"quantity": "", "more_than": "3", "needs": "notice", "source": ""},
        {"quantity": "emission", "more_than": "3", "needs": "notice", "source": ""},
        {"quantity": "power", "more_than": "-3", "needs": "notice", "source": ""},
    )
    answer = client.post(address, {**sent, **typed})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Rule 1: “three” was typed; a number was expected, for example 3." in page
    assert "Rule 2: Choose what changes, or empty the row." in page
    assert "Rule 3: This is the same or it is not; leave the amount empty." in page
    assert "Rule 4: The amount cannot be negative." in page
    assert 'value="three"' in page
    policy.refresh_from_db()
    assert policy.filing_rules == STORED


@pytest.mark.parametrize("number", ["x", "-1", "9" * 20, "999"])
def test_a_broken_count_of_rows_is_taken_as_no_more_than_can_be(number: str) -> None:
    widget = FilingRulesWidget()
    assert widget.value_from_datadict({"filing_rules-rows": number}, {}, "filing_rules") == []


def test_a_form_sent_without_the_rows_leaves_the_rules_as_they_are(
    client: Client, policy: RenewalPolicy
) -> None:
    address = reverse("renewal-policy-change", args=[policy.pk])
    sent, _ = shown(client, address)
    assert client.post(address, sent).status_code == 302
    policy.refresh_from_db()
    assert policy.filing_rules == STORED
