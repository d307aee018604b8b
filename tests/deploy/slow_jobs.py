"""A kind of job that only tests have: it takes its time and writes down what it does."""

from __future__ import annotations

import time
from pathlib import Path

from sites.services import jobs

STEP_S = 0.1


@jobs.handler("slow")
def slow(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    """Take ``payload["steps"]`` steps of STEP_S each; begin and end are added to the file ``payload["diary"]``."""
    diary = Path(payload["diary"])
    _add(diary, "begun")
    for done in range(payload["steps"]):
        progress.step(done, payload["steps"])
        time.sleep(STEP_S)
    progress.step(payload["steps"], payload["steps"])
    _add(diary, "ended")
    return {"steps": payload["steps"]}


def _add(diary: Path, line: str) -> None:
    with diary.open("a") as file:
        file.write(f"{line}\n")
