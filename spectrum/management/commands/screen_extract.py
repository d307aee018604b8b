"""Count, in a regulator's extract, the pairs of transmitter and receiver that lie near in space and frequency."""

from __future__ import annotations

import json
import time
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from sites.errors import RegisterError
from spectrum.extracts.entries import entries_of
from spectrum.extracts.reading import read_table
from spectrum.screening import Screening, screen
from spectrum.screening.reading import paths_in_use
from spectrum.services.extracts import ready_mappings

from .import_extract import mapping_named, read_file

ROWS = (
    ("within_100_km", "within 100 km"),
    ("co_located", "of these co-located: within 50 m"),
    ("within_30_km", "beyond 50 m: within 30 km"),
    ("both_on_axis", "beyond 50 m: both off-axis angles at most 5°"),
    ("one_on_axis", "beyond 50 m: exactly one off-axis angle at most 5°"),
)


class Command(BaseCommand):
    help = (
        "Read a regulator's extract and count ordered pairs, transmitter of one licence to receiver of another, "
        "at equal frequency and up to 30 MHz apart. Nothing is written."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="the extract")
        which = parser.add_mutually_exclusive_group(required=True)
        which.add_argument(
            "--mapping",
            metavar="CODE",
            help=f"a saved mapping, or one that comes with the program ({', '.join(ready_mappings())})",
        )
        which.add_argument(
            "--mapping-file", type=Path, metavar="JSON", help="a mapping described in a file; it is not saved"
        )
        parser.add_argument("--json", action="store_true", help="print the counts as one JSON object")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        content = read_file(file)
        began = time.perf_counter()
        try:
            mapping = mapping_named(options["mapping"], options["mapping_file"]).mapping()
            rows = read_table(content, file.name, mapping).rows
            paths = paths_in_use(entries_of(rows, mapping).rows)
        except RegisterError as error:
            raise CommandError(error.message) from error
        counted = screen(paths)
        if options["json"]:
            self.stdout.write(json.dumps({"rows": len(rows), **asdict(counted)}))
        else:
            self._print(len(rows), counted, time.perf_counter() - began)

    def _print(self, rows: int, counted: Screening, seconds: float) -> None:
        self.stdout.write(
            f"{rows} rows read, {counted.paths} in use by their status, screened in {seconds:.1f} s.\n"
            "Ordered pairs, transmitter of one licence → receiver of another, distances and azimuths on WGS 84:\n"
            f"  {'':52s}{'Δf = 0':>10s}{'0 < |Δf| ≤ 30 MHz':>20s}"
        )
        for name, title in ROWS:
            self.stdout.write(
                f"  {title:52s}{getattr(counted.equal, name):10d}{getattr(counted.apart, name):20d}"
            )
