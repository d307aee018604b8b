"""A copy of the real extract with known changes, and what must be said of them and of nothing else."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable

from spectrum.models import Difference

Row = dict[str, str]
Said = Counter[tuple[str, str, str, str]]


def as_csv(rows: list[Row]) -> bytes:
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def named(row: Row) -> str:
    return f"{row['callsign']} {float(row['tx_freq_mhz']):.5f}"


def position(row: Row, end: str) -> tuple[str, str]:
    return row[f"{end}_lat"], row[f"{end}_lon"]


class Copy:
    """Rows to change, each mutation of a licence (or a place) that no other touches; and what must be said of it."""

    def __init__(self, rows: list[Row]) -> None:
        self.rows = [dict(row) for row in rows]
        self.said: Said = Counter()
        self.by_licence: dict[str, list[Row]] = {}
        self.uses: Counter[tuple[str, str]] = Counter()
        for row in self.rows:
            self.by_licence.setdefault(row["callsign"], []).append(row)
            self.uses.update((position(row, "tx"), position(row, "rx")))
        self._taken: set[str] = set()

    def licence(self, fits: Callable[[list[Row]], bool]) -> list[Row]:
        """The next licence in use whose rows fit, and which no mutation has had yet."""
        number = next(
            number
            for number, rows in self.by_licence.items()
            if number not in self._taken and all(r["status"] == "Active" for r in rows) and fits(rows)
        )
        self._taken.add(number)
        return self.by_licence[number]

    def expect(self, kind: str, key: str, what: str, state: str = "followed", times: int = 1) -> None:
        self.said[kind, key, what, state] += times

    def new_row(self, row: Row) -> None:
        self.expect("link", named(row), "new")
        self.expect("station", named(row), "new", times=2)


def mutated(rows: list[Row]) -> Copy:
    copy = Copy(rows)
    # a later expiry
    several = copy.licence(lambda rows: len(rows) >= 3)
    for row in several:
        row["expiry_date"] = "2031-12-31"
    copy.expect("licence", several[0]["callsign"], "expires_on")
    # another holder, of those in the file
    moved = copy.licence(lambda rows: len(rows) >= 2)
    other = next(r for r in copy.rows if r["frn"] and r["frn"] != moved[0]["frn"])
    for row in moved:
        row["licensee"], row["frn"] = other["licensee"], other["frn"]
        copy.expect("link", named(row), "holder")
    copy.expect("licence", moved[0]["callsign"], "holder")
    # cancelled
    ended = copy.licence(lambda rows: len(rows) >= 2)
    for row in ended:
        row["status"], row["cancel_date"] = "Cancelled", "2020-04-01"
        copy.expect("link", named(row), "status")
        copy.expect("link", named(row), "ends_on")
    for field in ("ended_on", "ended_why"):
        copy.expect("licence", ended[0]["callsign"], field)
    # another ground height at a place of one row
    raised = copy.licence(lambda rows: any(copy.uses[position(r, "rx")] == 1 for r in rows))
    row = next(r for r in raised if copy.uses[position(r, "rx")] == 1)
    row["rx_ground_elev_m"] = str(float(row["rx_ground_elev_m"]) + 12.5)
    copy.expect("site", "the raised place", "ground_height_m")
    # a licence of one row is gone
    [gone] = copy.licence(lambda rows: len(rows) == 1)
    copy.rows.remove(gone)
    copy.expect("licence", gone["callsign"], "gone", "open")
    copy.expect("link", named(gone), "gone", "open")
    # a frequency is another: what was assigned is gone, what is assigned is new
    [retuned] = copy.licence(lambda rows: len(rows) == 1)
    copy.expect("channel", retuned["callsign"], "gone", "open")
    copy.expect("link", named(retuned), "gone", "open")
    retuned["tx_freq_mhz"] = f"{float(retuned['tx_freq_mhz']) + 0.5:.5f}"
    copy.expect("channel", retuned["callsign"], "new")
    copy.new_row(retuned)
    # a licence is new
    copy.rows.append({**several[0], "callsign": "WNEW001", "license_id": "9999999"})
    copy.expect("licence", "WNEW001", "new")
    copy.expect("channel", "WNEW001", "new")
    copy.new_row(copy.rows[-1])
    # what no column of the mapping reads, and the order of rows, say nothing
    copy.rows[0]["effective_date"] = "2020-04-02"
    copy.rows.reverse()
    return copy


def reported() -> Said:
    said: Said = Counter()
    for d in Difference.objects.select_related("record"):
        kind, key = d.record.kind, d.record.key
        if kind in ("link", "station"):
            key = key.rsplit(" ", 1)[0]
        elif kind == "channel":
            key = key.partition("/")[0]
        elif kind == "site":
            key = "the raised place"
        said[kind, key, d.field or d.what, d.state] += 1
    return said
