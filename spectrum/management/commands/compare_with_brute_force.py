"""Compare the search with computing every pair: at receivers of the register, and on random networks."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from spectrum.conflicts import compiled
from spectrum.conflicts.brute_force import brute_force, differences, random_network, searched
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.gather import criteria_in_force
from spectrum.services.register_columns import revision_now
from spectrum.services.register_reading import read_register

SHOWN = 20
NEVER = 10**9


class Command(BaseCommand):
    help = "Show that the search leaves nothing out: compare it with computing every pair, over level ground."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--receivers", type=int, default=200, metavar="N",
            help="so many receivers of the register, drawn by lot, against all its transmitters (default: 200)",
        )  # fmt: skip
        parser.add_argument(
            "--networks", type=int, default=0, metavar="N", help="so many random networks too (default: none)"
        )
        parser.add_argument(
            "--pairs",
            type=int,
            default=0,
            metavar="N",
            help="and more of them, until so many pairs are compared",
        )
        parser.add_argument("--seed", type=int, default=1, help="of the lot and of the networks (default: 1)")

    def handle(self, *args: Any, **options: Any) -> None:
        wrong = self._register(options["receivers"], options["seed"])
        if options["networks"] or options["pairs"]:
            wrong += self._random(options["networks"], options["pairs"], options["seed"])
        for line in wrong[:SHOWN]:
            self.stderr.write(line)
        if wrong:
            raise CommandError(f"{len(wrong)} differences: the search is not complete. Do not rely on it.")

    def _register(self, count: int, seed: int) -> list[str]:
        network = read_register(revision_now().number).network(timezone.localdate())
        receivers = np.flatnonzero(network.rx_hz > 0)
        sample = np.sort(np.random.default_rng(seed).permutation(receivers)[:count])
        criteria = criteria_in_force()
        began = time.perf_counter()
        found = searched(network, criteria, receivers=sample)
        searching = time.perf_counter() - began
        began = time.perf_counter()
        expected, pairs = brute_force(network, criteria, sample)
        computing = time.perf_counter() - began
        wrong = differences(expected, found)
        self.stdout.write(
            f"The register: {len(sample):,} of {len(receivers):,} receivers against all transmitters, {pairs:,} pairs, "
            f"{len(expected):,} findings: {len(wrong)} differences. "
            f"Search {searching:.2f} s, every pair {computing:.2f} s."
        )
        return wrong

    def _random(self, networks: int, least_pairs: int, seed: int) -> list[str]:
        criteria, wrong = Criteria(), []
        pairs = findings = made = 0
        began = time.perf_counter()
        rng = np.random.default_rng(seed)
        while made < networks or pairs < least_pairs:
            low_hz = 60_000 if made % 10 == 9 else 410_000_000
            network = random_network(int(rng.integers(2**32)), int(rng.integers(2, 26)), lowest_hz=low_hz)
            expected, count = brute_force(network, criteria)
            # The definition and its compiled twin in turn.
            by_compiled = compiled.AVAILABLE and made % 2 == 1
            found = searched(network, criteria, compiled_from_receivers=0 if by_compiled else NEVER)
            wrong += differences(expected, found)
            made, pairs, findings = made + 1, pairs + count, findings + len(expected)
        took = time.perf_counter() - began
        self.stdout.write(
            f"Random networks: {made:,} with {pairs:,} pairs and {findings:,} findings: {len(wrong)} differences, "
            f"in {took:.0f} s" + ("; every second one by the compiled search." if compiled.AVAILABLE else ".")
        )
        return wrong
