"""Bring a regulator's extract into the register, and print what changed and what is wrong with the file."""

from __future__ import annotations

import datetime as dt
import json
import time
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from sites.errors import RegisterError
from sites.services.record import Author, as_register_error
from spectrum.extracts import reporting
from spectrum.extracts.problems import ExtractError
from spectrum.extracts.quality import KINDS
from spectrum.models import ExtractMapping
from spectrum.services.extracts import Outcome, described, import_extract, mapping_coded, ready_mappings


class Command(BaseCommand):
    help = "Import a regulator's extract (CSV or XLSX) by a saved mapping; all or nothing, safe to repeat."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="the extract")
        which = parser.add_mutually_exclusive_group(required=True)
        which.add_argument(
            "--mapping",
            metavar="CODE",
            help=f"a saved mapping, or one that comes with the program ({', '.join(ready_mappings())})",
        )
        which.add_argument(
            "--mapping-file", type=Path, metavar="JSON", help="a mapping described in a file; it is saved"
        )
        parser.add_argument("--dry-run", action="store_true", help="say what would change, and write nothing")
        parser.add_argument(
            "--as-of", metavar="YYYY-MM-DD", help="the day the extract stands for (default: today)"
        )
        parser.add_argument(
            "--report", type=Path, metavar="CSV", help="write every case and change to this file"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = _day(options["as_of"])
        content = read_file(options["file"])
        report: Path | None = options["report"]
        began = time.perf_counter()
        try:
            mapping = mapping_named(options["mapping"], options["mapping_file"])
            outcome = import_extract(
                content,
                options["file"].name,
                mapping,
                by=Author.system("extract import"),
                as_of=as_of,
                dry_run=options["dry_run"],
            )
        except ExtractError as error:
            if report is not None:
                report.write_text(reporting.csv_of_problems(error), encoding="utf-8")
            raise CommandError(str(error)) from error
        except RegisterError as error:
            raise CommandError(error.message) from error
        except ValidationError as error:
            raise CommandError(as_register_error(error).message) from error
        self._print(outcome, time.perf_counter() - began)
        if report is not None:
            report.write_text(reporting.csv_of(outcome.plan, outcome.quality), encoding="utf-8")
            self.stdout.write(f"Every case and change: {report}")

    def _print(self, outcome: Outcome, seconds: float) -> None:
        plan = outcome.plan
        done = "Imported" if outcome.run else "Trial, nothing written:"
        self.stdout.write(
            f"{done} {len(outcome.table.rows)} rows of {outcome.table.file_name} in {seconds:.1f} s."
        )
        for name, count in plan.counts().items():
            if any(count.values()):
                self.stdout.write(
                    f"  {name:18s} {count['new']:6d} new {count['changed']:6d} changed {count['same']:6d} unchanged"
                )
        if plan.own_rows:
            self.stdout.write(f"  {plan.own_rows} rows are our own: licences and sites, no links.")
        if plan.kept:
            self.stdout.write(
                f"  {len(plan.kept)} values that people entered differ from the extract, and were kept."
            )
        if plan.missing:
            self.stdout.write(
                f"  {len(plan.missing)} licences and links of an earlier file are missing, and stay."
            )
        for notice, times in outcome.notices.items():
            self.stdout.write(f"  {times} positions: {notice}")
        self.stdout.write("What is wrong with the file (cases, rows, first rows):")
        for kind, count in outcome.quality.counts().items():
            first = [str(defect.rows[0]) for defect in outcome.quality.of_kind(kind)[:3]]
            self.stdout.write(f"  {count['cases']:6d} {count['rows']:6d}  {KINDS[kind]}  {', '.join(first)}")
        if outcome.run and not plan.is_empty:
            self.stdout.write("Next: manage.py check_network compares every link with what is new.")


def _day(text: str | None) -> dt.date | None:
    try:
        return dt.date.fromisoformat(text) if text else None
    except ValueError as error:
        raise CommandError(f"--as-of is {text!r}; a date was expected, for example 2026-06-01.") from error


def read_file(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise CommandError(f"{path} cannot be read: {error.strerror}. Check the path.") from error


def mapping_named(code: str | None, file: Path | None) -> ExtractMapping:
    try:
        if file is None:
            return mapping_coded(code or "")
        return described(json.loads(read_file(file)))
    except RegisterError as error:
        hint = " Or give --mapping-file." if file is None else ""
        raise CommandError(f"{error.message}{hint}") from error
    except ValueError as error:
        raise CommandError(f"{file} is not JSON: {error}.") from error
