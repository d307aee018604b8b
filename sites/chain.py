"""The arithmetic of the chain over the change record. Pure: values in, digests out.

The digest of an entry is SHA-256 (FIPS 180-4) over its content; that of a link of the chain is SHA-256
over the digest of the link before and that of the entry. The content is JSON with sorted keys, without
spaces, in ASCII; what is empty is left out, so that a column that a later release adds (and leaves empty in
older entries) changes no digest that was noted before.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from typing import Any

START = "0" * 64


def entry_digest(content: Mapping[str, Any]) -> str:
    """The digest of one entry: its columns by name, as they are read from the database."""
    kept = {name: value for name, value in content.items() if value is not None and value != ""}
    text = json.dumps(
        kept, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False, default=_plain
    )
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def link_digest(before: str, entry: str) -> str:
    """The digest up to an entry, from the digest up to the one before (``START`` for the first)."""
    return hashlib.sha256(f"{before}{entry}".encode("ascii")).hexdigest()


def _plain(value: Any) -> str:
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat(timespec="microseconds")
    return str(value)
