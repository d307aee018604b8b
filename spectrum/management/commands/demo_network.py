"""Enter the demo network: an invented utility in an invented valley, with sign-ins for every role."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import IntegrityError
from django.utils import timezone

from spectrum.demo.build import build, is_built
from spectrum.demo.parties import OWN
from spectrum.demo.people import PASSWORD, SIGN_INS
from spectrum.demo.planted import STORY
from spectrum.demo.terrain import write_tiles


class Command(BaseCommand):
    help = "Enter the demo network, unless it is there already; what people entered since is kept."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--as-of", metavar="YYYY-MM-DD", help="the day that all dates count from (default: today)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not getattr(settings, "DEMO_NETWORK_ALLOWED", False):
            raise CommandError(
                "The demo has sign-ins whose password everybody knows, so it is entered only under settings "
                "that allow it (DEMO_NETWORK_ALLOWED, as in deploy.settings.demo). Nothing was written."
            )
        folder = getattr(settings, "DEMO_TERRAIN_DIR", None)
        if folder is not None and write_tiles(Path(folder)):
            self.stdout.write("The valley's terrain was made, 3 seconds of arc between points.")
        if is_built():
            self.stdout.write(f"The demo network of {OWN} stands already; it was left as it is.")
        else:
            self._build(_day(options["as_of"]))
        self.stdout.write(
            f"A tour begins with the planned link {STORY}: it disturbs a railway link on its channel, its radio "
            "gives more than its licence allows, and that licence is soon to be filed for renewal."
        )
        self.stdout.write(f"Sign-ins of the demo, each with the password {PASSWORD}:")
        for sign_in in SIGN_INS:
            self.stdout.write(f"  {sign_in.username:8s} {sign_in.role}")

    def _build(self, today: dt.date) -> None:
        try:
            built = build(today)
        except (IntegrityError, ValidationError) as error:
            raise CommandError(
                "The demo network could not be entered, and nothing of it was written. Something in this "
                f"register has a code or name that the demo uses: {error}. Use an empty database for it."
            ) from error
        self.stdout.write(
            f"The demo network of {OWN}, all invented: {built.links} links with {built.stations} stations at "
            f"{built.sites} sites, {built.licences} licences with {built.licensed_channels} licensed channels."
        )


def _day(text: str | None) -> dt.date:
    if not text:
        return timezone.localdate()
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise CommandError(f"--as-of is {text!r}; a date was expected, for example 2026-06-01.") from error
