"""Findings as the checks make them, before the register stores them."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import Any

from .evidence import Row


@dataclass(frozen=True)
class Parties:
    """Who a finding is about; together with the kind this is its identity across runs."""

    link_id: int | None = None
    station_label: str = ""
    other_link_id: int | None = None
    other_station_label: str = ""
    licence_id: int | None = None
    licensed_channel_id: int | None = None
    site_id: int | None = None


@dataclass(frozen=True)
class Draft:
    """One finding of one run. ``margin`` is in ``margin_unit``; negative means over the limit.

    ``words`` are the patterns and values of its sentences where it was kept in between; else they are in the
    sentences themselves (:func:`.wording.kept_words`).
    """

    kind: str
    severity: str
    headline: str
    parties: Parties
    cure: str = ""
    margin: float | None = None
    margin_unit: str = ""
    evidence: list[Row] = field(default_factory=list)
    not_judged: list[str] = field(default_factory=list)
    words: dict[str, Any] | None = field(default=None, compare=False)

    @property
    def identity(self) -> str:
        """A digest of kind and parties: the same trouble keeps it from run to run."""
        p = self.parties
        parts = (
            self.kind,
            p.link_id,
            p.station_label,
            p.other_link_id,
            p.other_station_label,
            p.licence_id,
            p.licensed_channel_id,
            p.site_id,
        )
        return hashlib.sha256(
            "|".join("" if part is None else str(part) for part in parts).encode()
        ).hexdigest()
