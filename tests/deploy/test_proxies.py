"""Whose failed sign-ins are counted when proxies stand in front."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import RequestFactory

from deploy.proxies import client_address


@pytest.mark.parametrize(
    ("trusted", "forwarded", "expected"),
    [
        (0, "192.0.2.7", "198.51.100.1"),  # reached directly: the header is the client's own word
        (1, "192.0.2.7", "192.0.2.7"),
        (1, "203.0.113.9, 192.0.2.7", "192.0.2.7"),  # what the client wrote stands on the left
        (2, "203.0.113.9, 192.0.2.7, 198.51.100.2", "192.0.2.7"),
        (2, "192.0.2.7", "198.51.100.1"),  # fewer entries than proxies: not believed
        (1, "", "198.51.100.1"),
    ],
)
def test_only_what_our_proxies_wrote_is_believed(
    settings: Any, trusted: int, forwarded: str, expected: str
) -> None:
    settings.TRUSTED_PROXIES = trusted
    headers = {"X-Forwarded-For": forwarded} if forwarded else {}
    request = RequestFactory().get("/", REMOTE_ADDR="198.51.100.1", headers=headers)
    assert client_address(request) == expected
