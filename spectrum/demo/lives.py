"""Licences of the demo in every state of their life: what they were first, then the steps that the registrar entered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from licences.life import Step, Taken
from licences.models import Licence
from licences.services.life import Told, end_channel_alone, take_step
from sites.services.record import Author

from .licences import Papers, licence
from .parties import KLSO, OWN, STONE, TMRB
from .planted import copied
from .world import Network, World

APPLIED_FOR = "application 118"
SURRENDERED, CANCELLED, LAPSED, REFUSED = "TM-0932", "K1933", "TM-0934", "TM-0936"
RENEWED, FILED, TRANSFERRED = "U41-043", "U41-045", "U41-047"
FEE_NEAR, FEE_LATE, NOTICE_NEAR, LEFT_TO_EXPIRE = "U41-048", "U41-049", "U45-043", "U45-044"
#: It ran out with its renewal filed in time, and its authority has not decided yet.
UNDECIDED = "U41-050"
#: A link that goes on sending on a channel which the authority has taken back.
CHANNEL_CANCELLED = "U41-026"


@dataclass(frozen=True)
class Planned:
    """A step to enter, in days from the day of building."""

    number: str
    step: Step
    on: int
    until: int | None = None
    proof: str = ""
    note: str = ""


def plant_lives(world: World, network: Network, papers: Papers) -> None:
    """Set what the licences were before their steps; some are papers without a link."""
    held = {code: _licence_of(network, code) for code in _CODES}
    held[RENEWED].expires_on = world.day(-250)
    held[FILED].expires_on = world.day(120)
    held[UNDECIDED].expires_on = world.day(-12)
    held[TRANSFERRED].holder = world.holders[STONE]
    held[FEE_NEAR].fee_due_on = world.day(12)
    held[FEE_LATE].fee_due_on = world.day(-20)
    late = held[NOTICE_NEAR]
    late.granted_on, late.in_force_from = world.day(-360), world.day(-355)
    late.brought_into_use_on, late.bring_into_use_by = None, world.day(5)
    late.use_notice_by = world.day(20)
    held[LEFT_TO_EXPIRE].expires_on = world.day(150)
    network.links[LEFT_TO_EXPIRE].link.ends_on = world.day(140)
    like = network.links[RENEWED].station("A").licensed_channel
    if like is None:
        raise ValueError(f"{RENEWED} has no licensed channel to copy.")
    for place, (number, authority, changes) in enumerate(_papers(world)):
        paper = papers.add(
            licence(world, authority, number, OWN, yearly_fee=140, fee_currency="EUR", **changes)
        )
        papers.channels.append(copied(like, paper, "1", frequency_hz=419_050_000 + 25_000 * place))


def _papers(world: World) -> list[tuple[str, str, dict[str, Any]]]:
    """The licences that no link relies on: number, authority, what differs from a usual licence."""
    applied = {"applied_on": world.day(-40), "granted_on": None, "in_force_from": None, "expires_on": None}
    return [
        (
            APPLIED_FOR,
            KLSO,
            {**applied, "notes": "Asked for with the survey of the new pumping station; no answer yet."},
        ),
        (SURRENDERED, TMRB, {"notes": "The link was replaced by fibre."}),
        (CANCELLED, KLSO, {"notes": "The band was given to another service."}),
        (REFUSED, TMRB, {"expires_on": world.day(-60), "notes": "It was not in use in the last year."}),
        (LAPSED, TMRB, {"fee_due_on": world.day(-200), "notes": "The invoice went to a closed office."}),
    ]


_CODES = (RENEWED, FILED, UNDECIDED, TRANSFERRED, FEE_NEAR, FEE_LATE, NOTICE_NEAR, LEFT_TO_EXPIRE)


def _licence_of(network: Network, code: str) -> Licence:
    channel = network.links[code].stations[0].licensed_channel
    if channel is None:
        raise ValueError(f"The demo leads the licence of {code} through its life, and {code} has none.")
    return channel.licence


def live(world: World, network: Network, papers: Papers) -> None:
    """Enter the steps, in the registrar's name; everything is stored by now."""
    by = Author.of(world.people["registrar"])
    numbers = {code: _licence_of(network, code).number for code in _CODES}
    for step in _steps(numbers):
        held = Licence.objects.get(pk=papers.licences[step.number].pk)
        taken = Taken(
            step=step.step,
            on=world.day(step.on),
            until=None if step.until is None else world.day(step.until),
            holder_id=world.holders[OWN].pk if step.step is Step.TRANSFER else None,
        )
        take_step(held, taken, by=by, told=Told(proof=step.proof, note=step.note), today=world.today)
    channel = network.links[CHANNEL_CANCELLED].station("A").licensed_channel
    if channel is None:
        raise ValueError(f"{CHANNEL_CANCELLED} has no licensed channel that could be cancelled.")
    end_channel_alone(
        channel,
        Taken(step=Step.CANCEL, on=world.day(-15)),
        by=by,
        told=Told(
            proof="letter KLSO 2203", note="One frequency was taken back; the rest of the licence stands."
        ),
    )


def _steps(numbers: dict[str, str]) -> list[Planned]:
    return [
        Planned(numbers[RENEWED], Step.FILE_RENEWAL, -300, proof="filed at the counter"),
        Planned(numbers[RENEWED], Step.RENEW, -262, until=1500, proof="letter TMRB 771"),
        Planned(numbers[FILED], Step.FILE_RENEWAL, -20, proof="receipt of the portal"),
        Planned(numbers[UNDECIDED], Step.FILE_RENEWAL, -60, proof="receipt of the portal"),
        Planned(
            numbers[TRANSFERRED], Step.TRANSFER, -300, proof="deed of the sale",
            note="The quarry's telecontrol was bought with its licence.",
        ),
        Planned(numbers[NOTICE_NEAR], Step.BRING_INTO_USE, -25, proof="commissioning sheet, photographs"),
        Planned(numbers[LEFT_TO_EXPIRE], Step.LET_EXPIRE, -5, note="The fibre is there by then."),
        Planned(SURRENDERED, Step.SURRENDER, -90, proof="form 12"),
        Planned(CANCELLED, Step.CANCEL, -60, proof="letter KLSO 2147"),
        Planned(REFUSED, Step.FILE_RENEWAL, -100, proof="receipt of the portal"),
        Planned(REFUSED, Step.REFUSE_RENEWAL, -20, proof="letter TMRB 818"),
        Planned(LAPSED, Step.LAPSE, -120, proof="letter TMRB 802"),
    ]  # fmt: skip
