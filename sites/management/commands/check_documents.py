"""Compare the stored documents with what was recorded of them, and remove files that no document has any more."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from sites.services.documents import look_through

SHOWN = 50


class Command(BaseCommand):
    help = (
        "Compare every document's file with the SHA-256 that was recorded, and remove files whose document "
        "was removed long ago. Ends with an error where a file is gone or was changed."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--remove-after", metavar="DAYS", type=int, default=400,
            help="remove files whose document was removed so many days ago (default: 400)",
        )  # fmt: skip

    def handle(self, *args: Any, **options: Any) -> None:
        days = options["remove_after"]
        if days < 1:
            raise CommandError(f"--remove-after is {days}; a number of days from 1 was expected.")
        kept = look_through(remove_after_days=days)
        self.stdout.write(
            f"{kept.compared} documents compared, {len(kept.wrong)} wrong. {len(kept.removed)} files without a "
            f"document removed, {kept.waiting} kept for now."
        )
        for sentence in kept.wrong[:SHOWN]:
            self.stderr.write(sentence)
        if kept.wrong:
            raise CommandError("Bring these files back from the backup; until then they are not handed out.")
