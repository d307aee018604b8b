"""Authorities, their renewal policies, and holders: all invented."""

from __future__ import annotations

from licences.models import Authority, Holder, RenewalPolicy

from .places import LOWER_VALLEY, UPPER_VALLEY

OWN = "Orvask Valley Power"
RAIL = "Tessmark Railway Signals"
RESCUE = "Orvask Mountain Rescue"
WATER = "Orvask Water Office"
STONE = "Grathby Stone and Gravel"
TIMBER = "Rennoway Timber"
BROADCAST = "Sarnev Plateau Paging"
OTHERS = (RAIL, RESCUE, WATER, STONE, TIMBER, BROADCAST)

KLSO = "KLSO"
TMRB = "TMRB"
AUTHORITY_OF_REGION = {LOWER_VALLEY: KLSO, UPPER_VALLEY: TMRB}


def authorities() -> list[Authority]:
    """The two authorities, not saved."""
    return [
        Authority(code=KLSO, name="Karolund Spectrum Office", country=LOWER_VALLEY),
        Authority(code=TMRB, name="Tessmark Radio Board", country=UPPER_VALLEY),
    ]


def policies(authority: dict[str, Authority]) -> list[RenewalPolicy]:
    """One asks for renewal up to the last day, the other a month before it; their reminders differ too."""
    return [
        RenewalPolicy(
            authority=authority[KLSO],
            window_opens_days=365,
            last_filing_days=0,
            reminder_steps_days=[180, 90, 30, 7],
            unused_after_days=730,
        ),
        RenewalPolicy(
            authority=authority[TMRB],
            window_opens_days=180,
            last_filing_days=30,
            reminder_steps_days=[90, 60, 30, 14, 3],
            unused_after_days=365,
        ),
    ]


def holders() -> list[Holder]:
    """Ourselves and those whom we must not disturb, not saved."""
    return [
        Holder(name=OWN, own=True, contact_email="radio@orvask-power.example"),
        *(Holder(name=name, notes="Invented for the demo.") for name in OTHERS),
    ]
