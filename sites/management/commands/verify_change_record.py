"""Verify that the change record is as it was written: no entry edited, missing or moved."""

from __future__ import annotations

import re
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from sites.services import sealing


class Command(BaseCommand):
    help = (
        "Walk along the chain over the change record. Ends with 0 when it is whole, with 1 when an entry was "
        "edited, is missing or out of order, or when the chain does not go through a digest noted earlier."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--noted",
            default="",
            metavar="DIGEST",
            help="a digest that an earlier run printed: finds that the end of the record was cut off",
        )
        parser.add_argument(
            "--digest-only", action="store_true", help="print only the digest, to be noted elsewhere"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        noted = options["noted"].strip().lower()
        if noted and not re.fullmatch(r"[0-9a-f]{64}", noted):
            raise CommandError(f"{noted[:80]!r} was given; a digest of 64 hexadecimal figures was expected.")
        sealing.seal()
        found = sealing.verify(noted)
        if found.broken is not None:
            self.stderr.write(
                f"Broken at position {found.broken.position} ({found.broken.kind}): {found.broken.words}. "
                f"The {found.entries} entries before it are as they were sealed."
            )
            sys.exit(1)
        if not found.noted_found:
            self.stderr.write(
                f"The {found.entries} entries that are there fit together, but the chain does not go through "
                f"{noted}: its end was cut off, or it was written anew."
            )
            sys.exit(1)
        if options["digest_only"]:
            self.stdout.write(found.head_digest)
            return
        self.stdout.write(f"{found.entries} entries, none edited, missing or out of order.")
        self.stdout.write(f"Digest over all of them: {found.head_digest}")
        self.stdout.write(
            "Note it where the database's administrators cannot change it; --noted checks against it."
        )
