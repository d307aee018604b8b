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


#: This one asks e.r.p., the plan's channel and the high end, and leaves the position of the receiver to itself.
_TMRB_ASKS = [
    "purpose", "holder", "contact", "remarks", "tx_site", "region", "position", "ground_height", "structure_height",
    "rx_site", "path_length", "tx_frequency", "rx_frequency", "channel", "band_half", "channel_width", "starts_on",
    "designator", "modulation", "bit_rate", "radio", "erp", "losses", "antenna", "gain", "beamwidth", "polarisation",
    "azimuth", "antenna_height", "receiver",
]  # fmt: skip


def authorities() -> list[Authority]:
    """The two authorities, not saved."""
    return [
        Authority(code=KLSO, name="Karolund Spectrum Office", country=LOWER_VALLEY),
        Authority(code=TMRB, name="Tessmark Radio Board", country=UPPER_VALLEY, asked_fields=_TMRB_ASKS),
    ]


def policies(authority: dict[str, Authority]) -> list[RenewalPolicy]:
    """One asks for renewal up to the last day, the other a month before it and lets a licence continue meanwhile.

    Their reminders differ too.
    """
    return [
        RenewalPolicy(
            authority=authority[KLSO],
            window_opens_days=365,
            last_filing_days=0,
            reminder_steps_days=[180, 90, 30, 7],
            conditions="The link was in use within the last year.",
            longest_term_months=120,
            bring_into_use_months=12,
            use_notice_days=30,
            fee_grace_days=30,
            unused_after_days=730,
            filing_rules=_rules("KLSO order 7, invented", power=3, antenna_height=3, azimuth=5, position=50),
            source="KLSO orders 5 and 7, invented for the demo",
        ),
        RenewalPolicy(
            authority=authority[TMRB],
            window_opens_days=180,
            last_filing_days=30,
            reminder_steps_days=[90, 60, 30, 14, 3],
            conditions="No fee is open.",
            continues_while_undecided=True,
            longest_term_months=180,
            bring_into_use_months=18,
            use_notice_days=15,
            fee_grace_days=60,
            unused_after_days=365,
            filing_rules=_rules("TMRB notice 3, invented", power=1, antenna_height=2, position_seconds=1),
            source="TMRB notices 2 and 3, invented for the demo",
        ),
    ]


def _rules(source: str, **thresholds: float) -> list[dict[str, object]]:
    """Beyond these a change needs a new grant; any other polarisation is a matter of notice."""
    grants = [
        {"quantity": name, "more_than": most, "needs": "new_grant", "source": source}
        for name, most in thresholds.items()
    ]
    return [*grants, {"quantity": "polarisation", "more_than": 0, "needs": "notice", "source": source}]


def holders() -> list[Holder]:
    """Ourselves and those whom we must not disturb, not saved."""
    return [
        Holder(name=OWN, own=True, contact_email="radio@orvask-power.example"),
        *(Holder(name=name, notes="Invented for the demo.") for name in OTHERS),
    ]
