"""Which worker does what when the tests run side by side: by file, what takes longest first.

Left to the order of ``--dist loadfile``, the files with many tests go first and those with one long test last, so
that at the end one worker is at it and the others are idle.
"""

from __future__ import annotations

from typing import Any

from xdist.scheduler import LoadScopeScheduling

#: Files whose tests stand each for itself, and take so long that workers share them.
SHARED = (
    "tests/browser/test_every_page.py",
    "tests/browser/test_every_page_translatable.py",
    "tests/browser/test_whole_path.py",
    "tests/licences/reminders/test_real_processes.py",
    "tests/spectrum/network_run/test_processes.py",
    "tests/spectrum/network_run/test_shards.py",
    "tests/spectrum/interchange/test_round_trip.py",
    "tests/spectrum/pair_search/test_race.py",
    "tests/deploy/test_celery_survives.py",
)
#: A folder whose files share what takes long to make.
TOGETHER = "tests/spectrum/demo/"
#: What to begin with: files, or single tests of those that are shared, the longest first.
LONG = (
    "tests/browser/test_every_page.py",
    "tests/spectrum/extracts/test_us_fixed_microwave.py",
    "tests/spectrum/network_run/test_server_restart.py",
    "tests/licences/reminders/test_real_processes.py",
    "tests/spectrum/network_run/test_processes.py",
    "tests/spectrum/conflicts/test_completeness.py",
    "tests/browser/test_every_page_translatable.py",
    "tests/browser/test_whole_path.py",
    "tests/deploy/test_api_bad_input.py",
    "tests/deploy/test_celery_survives.py",
    "tests/browser/test_main_job.py",
    "tests/spectrum/interchange/test_round_trip.py",
    "tests/spectrum/network_run/test_shards.py::test_the_findings_are_the_same_in_1_2_7_and_64_shards_and_with_helpers",
    "tests/deploy/test_demo.py",
    "tests/deploy/test_smoke.py",
    "tests/spectrum/pair_search/test_race.py",
    TOGETHER,
)


def place(nodeid: str) -> int:
    """How early a test is to begin: a lower number before a higher one."""
    return next((n for n, begin in enumerate(LONG) if nodeid.startswith(begin)), len(LONG))


class LongestFirst(LoadScopeScheduling):
    """A worker takes a file at a time, a test at a time of those that are shared, or the folder that belongs together."""

    def __init__(self, config: Any, log: Any = None) -> None:
        super().__init__(config, log)
        self.config.option.loadscopereorder = False  # the order of the collection is ours

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.split("::", 1)[0]
        if file.startswith(TOGETHER):
            return TOGETHER
        return nodeid if file in SHARED else file
