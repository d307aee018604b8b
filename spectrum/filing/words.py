"""The sentences that stand on every data sheet."""

from __future__ import annotations

from typing import Final

from django.utils.translation import gettext_lazy as _

CAUTIONS: Final = (
    _(
        "An application is not a permission to transmit, and neither is a predicted clear channel: nothing is switched on "
        "before the licence is in force."
    ),
    _(
        "What the authority asks besides the figures of the register (fees, signatures, statements on the structure) goes "
        "onto its own form."
    ),
    _("Numbers in brackets are items of ITU Radio Regulations, Appendix 4, from memory and not verified."),
)
