"""The jobs of licences."""

from __future__ import annotations

import dataclasses
import datetime as dt

from licences.services import reminders
from sites.errors import RegisterError
from sites.services import jobs
from sites.words import gettext

# Every hour: it is morning somewhere, and a mail server that was away delays a mail and does not lose it.
EVERY_HOUR = [dt.time(hour, 15) for hour in range(24)]


@jobs.handler("send_reminders", daily_at=EVERY_HOUR)
def send_reminders(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    """Send the reminders that are due. Failed when a mail could not be sent: the next run tries it again."""
    outcome = reminders.remind(step=progress.step)
    if outcome.failed:
        reasons = "; ".join(f"{person}: {why}" for person, why in outcome.failed.items())
        raise RegisterError(
            gettext("Mails sent: {mails}. Not sent, to be tried again in the next hour: {reasons}").format(
                mails=outcome.mails, reasons=reasons
            )
        )
    return dataclasses.asdict(outcome)
