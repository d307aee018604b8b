"""Check every link and licence, and print what stands: how many of each kind, and the worst."""

from __future__ import annotations

import datetime as dt
import time
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from sites.services.record import Author
from spectrum.conflicts.kinds import KINDS
from spectrum.models import Finding
from spectrum.selectors import current_findings, network_size
from spectrum.services.checks import check_network
from spectrum.templatetags.drawings import margin


class Command(BaseCommand):
    help = "Check the whole network and print a summary of the findings."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--as-of", metavar="YYYY-MM-DD", help="the register as it stands on this date (default: today)"
        )
        parser.add_argument(
            "--worst", type=int, default=3, metavar="N", help="how many of the worst to name (default: 3)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = None
        if options["as_of"]:
            try:
                as_of = dt.date.fromisoformat(options["as_of"])
            except ValueError as error:
                raise CommandError(
                    f"--as-of is {options['as_of']!r}; a date was expected, for example 2026-06-01."
                ) from error
        began = time.perf_counter()
        check = check_network(by=Author.system("command line"), as_of=as_of)
        took = time.perf_counter() - began
        size = network_size()
        self.stdout.write(
            f"Checked as of {check.as_of}: {size.live_links} live links with {size.stations} stations at "
            f"{size.sites} sites, {size.licences} licences, in {took:.1f} s."
        )
        counts: dict[str, int] = check.counts["by_kind"]
        severities: dict[str, int] = check.counts["by_severity"]
        self.stdout.write(
            ", ".join(f"{severities.get(value, 0)} {label}" for value, label in Finding.Severity.choices)
            + f" ({check.counts['new']} new, {check.counts['still']} still there, {check.counts['gone']} gone)"
        )
        for code, kind in KINDS.items():
            if counts.get(code):
                self.stdout.write(f"  {counts[code]:5d}  {kind.title}")
        worst = (
            current_findings()
            .filter(margin_unit="dB", severity=Finding.Severity.MUST_FIX)
            .order_by("margin")[: options["worst"]]
        )
        if worst:
            self.stdout.write("Worst:")
            for number, finding in enumerate(worst, start=1):
                self.stdout.write(f"  {number}. {finding.headline} (margin {margin(finding)})")
                if finding.cure:
                    self.stdout.write(f"     {finding.cure}")
