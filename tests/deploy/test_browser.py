"""The browser of the tests: it shows pages of the live server and tells when one breaks the rules."""

from __future__ import annotations

from typing import Any

import pytest

from tests.watching import policy_faults

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_sign_in_page_of_the_administration_opens_clean(page: Any) -> None:
    answer = page.goto("/admin/login/")
    assert answer.status == 200
    assert page.locator("input[name=username]").is_visible()


def test_the_content_security_policy_stops_a_script_in_the_page(page: Any, page_faults: list[str]) -> None:
    page.goto("/admin/login/")
    page.evaluate("document.body.insertAdjacentHTML('beforeend', '<p id=mark></p>')")
    stopped = page.evaluate(
        """() => new Promise(resolve => {
            document.addEventListener('securitypolicyviolation', event => resolve(event.violatedDirective));
            const script = document.createElement('script');
            script.textContent = "document.getElementById('mark').textContent = 'ran'";
            document.body.append(script);
        })"""
    )
    assert stopped == "script-src-elem"
    assert page.locator("#mark").inner_text() == ""
    assert len(page_faults) == 1
    assert "Content Security Policy" in page_faults.pop()


def test_a_page_that_asks_another_host_is_found_out(page: Any, page_faults: list[str]) -> None:
    page.goto("/admin/login/")
    with pytest.raises(Exception, match=r"ERR_FAILED"):
        page.goto("http://elsewhere.example/")
    assert page_faults.pop() == "asked another host: http://elsewhere.example/"


def test_a_script_error_and_a_failing_answer_are_found_out(page: Any, page_faults: list[str]) -> None:
    page.goto("/sign-in/")
    page.evaluate("setTimeout(() => { throw new Error('broken on purpose') })")
    page.evaluate("console.error('said on purpose')")
    page.wait_for_timeout(100)
    assert [fault for fault in page_faults if "on purpose" not in fault] == []
    assert len(page_faults) == 2
    page_faults.clear()


@pytest.mark.parametrize(
    ("policy", "fault"),
    [
        ("", "the policy does not rule default-src"),
        ("default-src 'self' https://elsewhere.example", "the policy allows https://elsewhere.example"),
        ("default-src *", "the policy allows * in default-src"),
        ("default-src 'none'; script-src 'unsafe-inline'", "the policy allows 'unsafe-inline' in script-src"),
        (
            "default-src 'none'; base-uri 'none'; form-action 'self'",
            "the policy does not rule frame-ancestors",
        ),
    ],
)
def test_a_policy_that_lets_others_in_is_found_out(policy: str, fault: str) -> None:
    assert any(fault in found for found in policy_faults(policy))
