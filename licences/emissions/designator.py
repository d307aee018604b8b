"""Read, write and explain an emission designator (RR Appendix 1)."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import Final

from licences.emissions.symbols import CLASS_SYMBOLS, ORDINALS
from sites.refusals import RefusalError
from sites.sentences import joined, sentence
from sites.words import gettext, ngettext_lazy
from sites.words import gettext_noop as _

_UNIT_HZ: Final = {"H": Decimal(1), "K": Decimal(10) ** 3, "M": Decimal(10) ** 6, "G": Decimal(10) ** 9}
_UNIT_NAME: Final = {"H": "Hz", "K": "kHz", "M": "MHz", "G": "GHz"}
_REFUSED: Final = _(
    "Emission designator '{text}': {problem}; for example 16K0F3E (16 kHz, frequency modulation, analogue "
    "telephony)."
)
_CODE_LENGTH: Final = 4
_SHORTEST, _LONGEST = _CODE_LENGTH + 3, _CODE_LENGTH + 5


class EmissionFormatError(RefusalError):
    """A text is not an emission designator; the message names the character and what belongs there.

    Attributes
    ----------
    text : the text as it was given
    position : index (from 0) of the offending character in the text without blanks, or None
    """

    def __init__(self, text: str, problem: str, position: int | None = None) -> None:
        self.text, self.position = text, position
        super().__init__(sentence(_REFUSED, text=text, problem=problem))


@dataclass(frozen=True, slots=True)
class EmissionDesignator:
    """An emission designator in parts; ``str()`` writes it again.

    Attributes
    ----------
    necessary_bandwidth_hz : the stated necessary bandwidth in Hz
    modulation, signal, information : first, second and third symbol of the class of emission
    detail, multiplex : fourth and fifth symbol, None where left out
    """

    necessary_bandwidth_hz: float
    modulation: str
    signal: str
    information: str
    detail: str | None = None
    multiplex: str | None = None

    @property
    def class_of_emission(self) -> str:
        """The class symbols as written: a dash stands for a fourth symbol left out before a fifth."""
        detail = self.detail or ("-" if self.multiplex else "")
        return f"{self.modulation}{self.signal}{self.information}{detail}{self.multiplex or ''}"

    @property
    def symbols(self) -> tuple[str, str, str, str | None, str | None]:
        """The five class symbols in order."""
        return (self.modulation, self.signal, self.information, self.detail, self.multiplex)

    def __str__(self) -> str:
        return bandwidth_code(self.necessary_bandwidth_hz) + self.class_of_emission


def bandwidth_code(bandwidth_hz: float) -> str:
    """Write a necessary bandwidth as three digits and a letter in place of the decimal point.

    Parameters
    ----------
    bandwidth_hz : float
        Necessary bandwidth in Hz, scalar.

    Returns
    -------
    str
        Four characters, rounded half up to three significant figures; below 1 Hz to 0.001 Hz.

    Raises
    ------
    ValueError
        When the bandwidth does not round to 0.001 Hz up to 999 GHz.

    Source
    ------
    ITU Radio Regulations, Appendix 1, Section I, § 2; 47 CFR 2.202(b).

    Range
    -----
    0.001 Hz to 999 GHz.

    Examples
    --------
    >>> bandwidth_code(12500)
    '12K5'
    >>> bandwidth_code(999.6)
    '1K00'
    """
    # Twelve significant digits drop the binary residue of a computed width (180499.99999999997 is 180.5 kHz).
    value = Decimal(f"{bandwidth_hz:.12g}")
    if not value.is_finite() or value < Decimal("0.0005"):
        raise ValueError(
            f"bandwidth_hz is {bandwidth_hz:g}; it must lie between 0.001 Hz and 999 GHz (RR Appendix 1)."
        )
    step = Decimal("0.001") if value < 1 else Decimal(1).scaleb(value.adjusted() - 2)
    rounded = value.quantize(step, rounding=ROUND_HALF_UP)
    if rounded < 1:
        return f"H{int(rounded * 1000):03d}"
    for letter, unit in _UNIT_HZ.items():
        scaled = rounded / unit
        if scaled < 1000:
            whole = str(int(scaled))
            fraction = f"{scaled % 1:.3f}"[2:]
            return (whole + letter + fraction)[:_CODE_LENGTH]
    raise ValueError(
        f"bandwidth_hz is {bandwidth_hz:g}; it must lie between 0.001 Hz and 999 GHz (RR Appendix 1)."
    )


def bandwidth_hz(code: str) -> float:
    """Read the four characters of a necessary bandwidth.

    Parameters
    ----------
    code : str
        Three digits and one of H, K, M, G in place of the decimal point.

    Returns
    -------
    float
        The bandwidth in Hz.

    Raises
    ------
    EmissionFormatError
        When the code is malformed; the message names the character.

    Source
    ------
    ITU Radio Regulations, Appendix 1, Section I, § 2; 47 CFR 2.202(b).

    Range
    -----
    0.001 Hz (H001) to 999 GHz (999G).

    Examples
    --------
    >>> bandwidth_hz("12K5")
    12500.0
    >>> bandwidth_hz("H002")
    0.002
    """
    return float(_read_bandwidth(code, code))


def parse(designator: str) -> EmissionDesignator:
    """Read an emission designator: necessary bandwidth, then three to five class symbols.

    Small letters and blanks are accepted. A dash may stand for the fourth or fifth symbol.

    Parameters
    ----------
    designator : str
        For example ``"16K0F3E"`` or ``"25K0 D7W ET"``.

    Returns
    -------
    EmissionDesignator
        Its parts.

    Raises
    ------
    EmissionFormatError
        Names the character that does not fit, what was expected there, and an example.

    Source
    ------
    ITU Radio Regulations, Appendix 1, Sections I and II; 47 CFR 2.201, 2.202.

    Range
    -----
    Necessary bandwidths of 0.001 Hz to 999 GHz.

    Known disagreements
    -------------------
    The table of fourth symbols and the dash for a symbol left out are from memory, not verified.

    Examples
    --------
    >>> parse("16K0F3E").necessary_bandwidth_hz
    16000.0
    >>> parse("16K0Y3E")
    Traceback (most recent call last):
    ...
    licences.emissions.designator.EmissionFormatError: Emission designator '16K0Y3E': character 5 is 'Y', but the first class symbol (type of modulation) must be one of N A H R J B C F G D P K L M Q V W X; for example 16K0F3E (16 kHz, frequency modulation, analogue telephony).
    """  # noqa: E501
    return _parse(designator)


@lru_cache(maxsize=4096)
def _parse(designator: str) -> EmissionDesignator:
    text = "".join(designator.split()).upper()
    if not text:
        raise EmissionFormatError(designator, sentence(_("it is empty; expected seven to nine characters")))
    width = _read_bandwidth(designator, text[:_CODE_LENGTH])
    if len(text) < _SHORTEST:
        missing = sentence(ORDINALS[len(text) - _CODE_LENGTH])
        what = sentence(CLASS_SYMBOLS[len(text) - _CODE_LENGTH][0])
        raise EmissionFormatError(
            designator,
            sentence(
                ngettext_lazy(
                    "it ends after {count} character, the {missing} class symbol ({what}) is missing",
                    "it ends after {count} characters, the {missing} class symbol ({what}) is missing",
                ),
                count=len(text),
                missing=missing,
                what=what,
            ),
        )
    if len(text) > _LONGEST:
        raise EmissionFormatError(
            designator,
            sentence(
                _("character {position} is '{symbol}', but nothing may follow the fifth class symbol"),
                position=_LONGEST + 1,
                symbol=text[_LONGEST],
            ),
            _LONGEST,
        )
    symbols: list[str | None] = []
    for place, symbol in enumerate(text[_CODE_LENGTH:]):
        title, table = CLASS_SYMBOLS[place]
        optional = place >= 3
        if symbol == "-" and optional:
            symbols.append(None)
            continue
        if symbol not in table:
            position = _CODE_LENGTH + place
            choice: str = " ".join(table)
            if optional:
                choice = sentence(_("{symbols} or a dash"), symbols=choice)
            raise EmissionFormatError(
                designator,
                sentence(
                    _(
                        "character {position} is '{symbol}', but the {ordinal} class symbol ({what}) must be "
                        "one of {choice}"
                    ),
                    position=position + 1,
                    symbol=symbol,
                    ordinal=sentence(ORDINALS[place]),
                    what=sentence(title),
                    choice=choice,
                ),
                position,
            )
        symbols.append(symbol)
    symbols += [None] * (5 - len(symbols))
    modulation, signal, information, detail, multiplex = symbols
    assert modulation and signal and information  # noqa: S101  - the loop above has read them
    return EmissionDesignator(float(width), modulation, signal, information, detail, multiplex)


def _read_bandwidth(text: str, code: str) -> Decimal:
    """The bandwidth in Hz; ``text`` is what the error shows, ``code`` its first four characters."""
    code = code.upper()
    for position, character in enumerate(code):
        if not (character.isascii() and character.isdigit()) and character not in _UNIT_HZ:
            raise EmissionFormatError(
                text,
                sentence(
                    _(
                        "character {position} is '{character}', but the necessary bandwidth is written with "
                        "digits and one of H, K, M, G"
                    ),
                    position=position + 1,
                    character=character,
                ),
                position,
            )
    if len(code) != _CODE_LENGTH:
        raise EmissionFormatError(
            text,
            sentence(
                ngettext_lazy(
                    "the necessary bandwidth has {count} character, expected four",
                    "the necessary bandwidth has {count} characters, expected four",
                ),
                count=len(code),
            ),
        )
    if code[0] in "0KMG":
        raise EmissionFormatError(
            text,
            sentence(
                _("character 1 is '{code}', but a necessary bandwidth begins with neither 0 nor K, M, G"),
                code=code[0],
            ),
            0,
        )
    letters = [position for position, character in enumerate(code) if character in _UNIT_HZ]
    if not letters:
        raise EmissionFormatError(
            text,
            sentence(
                _("'{code}' has no unit; expected one of H, K, M, G in place of the decimal point"), code=code
            ),
        )
    if len(letters) > 1:
        position = letters[1]
        raise EmissionFormatError(
            text,
            sentence(
                _(
                    "character {position} is '{symbol}', but the bandwidth already has its unit '{unit}'; "
                    "expected a digit"
                ),
                position=position + 1,
                symbol=code[position],
                unit=code[letters[0]],
            ),
            position,
        )
    letter = code[letters[0]]
    value = Decimal(code.replace(letter, ".")) * _UNIT_HZ[letter]
    if value == 0:
        raise EmissionFormatError(
            text, sentence(_("'{code}' states a bandwidth of zero; expected at least H001"), code=code)
        )
    return value


def width_in_words(width_hz: float) -> str:
    """Write a bandwidth in words, with the unit that its code would use.

    Parameters
    ----------
    width_hz : float
        Bandwidth in Hz, scalar.

    Returns
    -------
    str
        Number and unit, six significant figures.

    Raises
    ------
    TypeError
        When the width is no number.

    Source
    ------
    Units as in the ITU Radio Regulations, Appendix 1, Section I, § 2.

    Range
    -----
    Any width.

    Examples
    --------
    >>> width_in_words(12500)
    '12.5 kHz'
    >>> width_in_words(400)
    '400 Hz'
    """
    for letter in ("G", "M", "K"):
        if width_hz >= float(_UNIT_HZ[letter]):
            return sentence(
                "{width:.6g} {unit}", width=width_hz / float(_UNIT_HZ[letter]), unit=_UNIT_NAME[letter]
            )
    return sentence("{width:.6g} {unit}", width=width_hz, unit="Hz")


def explain(designator: str | EmissionDesignator) -> str:
    """Say in words what an emission designator means.

    Parameters
    ----------
    designator : str or EmissionDesignator
        The designator.

    Returns
    -------
    str
        One sentence: bandwidth, then the meaning of each stated symbol.

    Raises
    ------
    EmissionFormatError
        When a text is not an emission designator.

    Source
    ------
    ITU Radio Regulations, Appendix 1; 47 CFR 2.201.

    Range
    -----
    As :func:`parse`.

    Known disagreements
    -------------------
    The meanings of the fourth symbol are from memory, not verified.

    Examples
    --------
    >>> explain("16K0F3E")
    '16K0F3E: necessary bandwidth 16 kHz; F frequency modulation; 3 a single channel with analogue information; E telephony, including sound broadcasting.'
    >>> explain("100HA1A").startswith("100HA1A: necessary bandwidth 100 Hz; A amplitude modulation")
    True
    """  # noqa: E501
    emission = parse(designator) if isinstance(designator, str) else designator
    parts = [
        joined(" ", [symbol, sentence(table[symbol])])
        for symbol, (_name, table) in zip(emission.symbols, CLASS_SYMBOLS, strict=True)
        if symbol is not None
    ]
    width = width_in_words(emission.necessary_bandwidth_hz)
    return gettext(
        sentence(
            _("{emission}: necessary bandwidth {width}; {parts}."),
            emission=str(emission),
            width=width,
            parts=joined("; ", parts),
        )
    )
