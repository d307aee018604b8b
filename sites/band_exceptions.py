"""Documented exceptions from the band-half rule, as they are written down with a site."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sites.refusals import RefusalError
from sites.sentences import sentence
from sites.words import gettext_noop as _

_LINE = re.compile(
    r"(?P<low>\d+(?:\.\d+)?)\s*(?:-|–|to)\s*(?P<high>\d+(?:\.\d+)?)\s*(?:MHz)?\s*:\s*(?P<reason>\S.*)"
)


class BandExceptionError(RefusalError):
    """A line that is no exception; the message says which and what was expected."""


@dataclass(frozen=True)
class BandException:
    """In this band a site may transmit in both halves, for the reason given."""

    low_mhz: float
    high_mhz: float
    reason: str

    def covers(self, *frequencies_mhz: float) -> bool:
        """Whether every frequency lies in the band; its ends count."""
        return all(self.low_mhz <= frequency <= self.high_mhz for frequency in frequencies_mhz)


def band_exceptions(text: str) -> tuple[BandException, ...]:
    """Read exceptions, one a line; empty lines are skipped.

    >>> band_exceptions("410-430: one hop turned round, letter of 2024-03-04")[0].covers(410.0, 430.0)
    True
    >>> band_exceptions("")
    ()
    >>> band_exceptions("the upper band")
    Traceback (most recent call last):
    ...
    sites.band_exceptions.BandExceptionError: Line 1 is "the upper band"; a band in MHz, a colon and the \
reason were expected, such as "410-430: agreed with the authority, letter of 2024-03-04".
    """
    found = []
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        match = _LINE.fullmatch(line.strip())
        if match is None:
            raise BandExceptionError(
                sentence(
                    _(
                        'Line {number} is "{line}"; a band in MHz, a colon and the reason were expected, such as '
                        '"410-430: agreed with the authority, letter of 2024-03-04".'
                    ),
                    number=number,
                    line=line.strip(),
                )
            )
        low, high = float(match["low"]), float(match["high"])
        if low >= high:
            raise BandExceptionError(
                sentence(
                    _("Line {number} names the band {low} to {high} MHz; the lower end must come first."),
                    number=number,
                    low=f"{low:g}",
                    high=f"{high:g}",
                )
            )
        found.append(BandException(low, high, match["reason"].strip()))
    return tuple(found)
