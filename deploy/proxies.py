"""Whom a request comes from, when proxies of our own stand in front."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str:
    """The address of the client, for counting failed sign-ins.

    Each trusted proxy appends to ``X-Forwarded-For`` the address it was called
    from (RFC 7239, section 7.4, describes that older header); with n of them the
    n-th entry from the right was written by the outermost, and everything to the
    left of it by the client, who may write anything.
    """
    direct = str(request.META.get("REMOTE_ADDR", ""))
    trusted: int = settings.TRUSTED_PROXIES
    entries = [entry.strip() for entry in request.headers.get("X-Forwarded-For", "").split(",")]
    if trusted and len(entries) >= trusted and entries[-trusted]:
        return entries[-trusted]
    return direct
