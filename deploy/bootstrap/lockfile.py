"""The lock file: every package with its version and hashes, and which ones the application itself needs."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from deploy.bootstrap.running import ROOT

LOCK_FILE = ROOT / "deploy" / "requirements.lock"
# However the lock was made: from this folder or from the root of the checkout.
RUNTIME_SOURCE = re.compile(r"-r (?:deploy/)?requirements\.in")
_ENTRY = re.compile(r"^\S[^\n]*\n(?:[ \t]+[^\n]*\n)*", re.MULTILINE)
_NAME = re.compile(r"^[A-Za-z0-9._-]+")
_VIA = re.compile(r"^[ \t]+#[ \t]+(?:via\b[ \t]*)?(\S.*)?$", re.MULTILINE)


def fingerprint(lock_file: Path = LOCK_FILE) -> str:
    """SHA-256 of the lock file, which stands in the environment's stamp."""
    return hashlib.sha256(lock_file.read_bytes()).hexdigest()


def runtime_entries(lock: str) -> str:
    """The part of a lock file that the application needs to run, without the tools for tests and checks.

    The lock file says under each package who asked for it (``# via``); what
    ``requirements.in`` asked for, and everything asked for by those, is kept.
    """
    entries = [(_name(entry), entry) for entry in _ENTRY.findall(lock)]
    asked_by: dict[str, set[str]] = {}
    for name, entry in entries:
        asked_by.setdefault(name, set()).update(via for via in _VIA.findall(entry) if via)
    kept = {name for name, askers in asked_by.items() if any(map(RUNTIME_SOURCE.fullmatch, askers))}
    grown = True
    while grown:
        more = {name for name, askers in asked_by.items() if askers & kept} - kept
        kept |= more
        grown = bool(more)
    return "".join(entry for name, entry in entries if name in kept)


def _name(entry: str) -> str:
    found = _NAME.match(entry)
    if found is None:
        raise ValueError(f"{entry.splitlines()[0]!r} in the lock file does not begin with a package name")
    return found[0].lower()
