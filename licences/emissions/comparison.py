"""Does a licence's list of emissions cover what a radio transmits?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from licences.emissions.designator import EmissionDesignator, parse, width_in_words
from licences.emissions.symbols import CLASS_SYMBOLS, ORDINALS
from sites.sentences import joined, sentence
from sites.words import gettext_noop as _


@dataclass(frozen=True, slots=True)
class EmissionComparison:
    """What :func:`permits` found.

    Attributes
    ----------
    within : True covered, False not covered, None cannot be judged (the sentence says what is missing)
    emission : the designator compared, in its usual spelling
    permitted : the listed designator that covers it or comes nearest, None for an empty list
    permitted_bandwidth_hz, necessary_bandwidth_hz : what that one allows, what the emission needs
    bandwidth_margin_hz : the difference of the two, negative when the emission is wider
    differences : one clause per difference from ``permitted``
    sentence : the verdict in one sentence
    """

    within: bool | None
    emission: str
    permitted: str | None
    permitted_bandwidth_hz: float | None
    necessary_bandwidth_hz: float
    bandwidth_margin_hz: float | None
    differences: tuple[str, ...]
    sentence: str


def permits(permitted: Sequence[str], emission: str) -> EmissionComparison:
    """Compare an emission with the list that a licence permits.

    Covered means: one listed designator has the same class symbols, as far as it states them, and
    is not narrower. A fourth or fifth symbol that the licence states and the emission leaves out
    cannot be judged. The symbols W and X are symbols like the others, not wild cards.

    Parameters
    ----------
    permitted : sequence of str
        Emission designators as listed on the licence.
    emission : str
        The designator of what is transmitted.

    Returns
    -------
    EmissionComparison
        The verdict, the nearest listed designator and the difference in a sentence.

    Raises
    ------
    EmissionFormatError
        When ``emission`` or an entry of ``permitted`` is not an emission designator.

    Source
    ------
    ITU Radio Regulations, 1.152 (necessary bandwidth) and Appendix 1. That the class must be equal
    and the bandwidth not wider is common practice, no published source.

    Range
    -----
    As :func:`licences.emissions.parse`.

    Examples
    --------
    >>> permits(["16K0F3E", "11K0F3E"], "11K2F3E").within
    True
    >>> permits(["11K0F3E"], "11K2F3E").sentence
    'Emission 11K2F3E is not covered by the licence; nearest is 11K0F3E: its necessary bandwidth of 11.2 kHz is 200 Hz wider than the permitted 11 kHz.'
    """  # noqa: E501
    return _permits(tuple(permitted), emission)


@lru_cache(maxsize=4096)
def _permits(permitted: tuple[str, ...], emission: str) -> EmissionComparison:
    """Cached: a network has thousands of stations and a handful of emissions."""
    wanted = parse(emission)
    needed = wanted.necessary_bandwidth_hz
    if not permitted:
        return EmissionComparison(
            None, str(wanted), None, None, needed, None, (),
            sentence(
                _("Emission {emission} cannot be judged: the licence lists no emission designator."),
                emission=str(wanted),
            ),
        )  # fmt: skip
    verdicts = [_against(parse(entry), wanted) for entry in permitted]
    return min(verdicts, key=_distance)


_ORDER = {True: 0, None: 1, False: 2}


def _distance(found: EmissionComparison) -> tuple[int, int, float]:
    """Covered before open before not covered; then fewest class symbols apart, then the widest listed."""
    margin_hz = found.bandwidth_margin_hz
    assert margin_hz is not None  # noqa: S101  - set for every listed designator
    return _ORDER[found.within], len(found.differences) - (margin_hz < 0), -margin_hz


def _against(listed: EmissionDesignator, wanted: EmissionDesignator) -> EmissionComparison:
    differences: list[str] = []
    unknown: list[str] = []
    for ordinal, (what, table), allowed, used in zip(
        ORDINALS, CLASS_SYMBOLS, listed.symbols, wanted.symbols, strict=True
    ):
        if allowed is None or allowed == used:
            continue
        if used is None:
            unknown.append(
                sentence(
                    _("its {ordinal} symbol ({what}) is left out and the licence states {licensed}"),
                    ordinal=sentence(ordinal),
                    what=sentence(what),
                    licensed=allowed,
                )
            )
        else:
            differences.append(
                sentence(
                    _(
                        "its {ordinal} symbol ({what}) is {used}, {meaning}, "
                        "where the licence has {licensed}, {licensed_meaning}"
                    ),
                    ordinal=sentence(ordinal),
                    what=sentence(what),
                    used=used,
                    meaning=sentence(table[used]),
                    licensed=allowed,
                    licensed_meaning=sentence(table[allowed]),
                )
            )
    permitted_hz, needed_hz = listed.necessary_bandwidth_hz, wanted.necessary_bandwidth_hz
    margin_hz = permitted_hz - needed_hz
    if margin_hz < 0:
        differences.append(
            sentence(
                _("its necessary bandwidth of {needed} is {excess} wider than the permitted {permitted}"),
                needed=width_in_words(needed_hz),
                excess=width_in_words(-margin_hz),
                permitted=width_in_words(permitted_hz),
            )
        )
    within: bool | None
    if differences:
        within = False
        said = sentence(
            _("Emission {emission} is not covered by the licence; nearest is {nearest}: {differences}."),
            emission=str(wanted),
            nearest=str(listed),
            differences=joined("; ", differences + unknown),
        )
    elif unknown:
        within = None
        said = sentence(
            _("Emission {emission} cannot be judged against {nearest}: {unknown}."),
            emission=str(wanted),
            nearest=str(listed),
            unknown=joined("; ", unknown),
        )
    else:
        within = True
        said = sentence(
            _(
                "Emission {emission} is covered by {listed}: same class, necessary bandwidth "
                "{needed} of {permitted} permitted."
            ),
            emission=str(wanted),
            listed=str(listed),
            needed=width_in_words(needed_hz),
            permitted=width_in_words(permitted_hz),
        )
    return EmissionComparison(
        within, str(wanted), str(listed), permitted_hz, needed_hz, margin_hz,
        tuple(differences + unknown), said,
    )  # fmt: skip
