"""Form fields that read figures as engineers write them and give the register's stored units.

A point and a comma are both taken as the decimal sign, whoever types. What could as well be a sign between
thousands – 1.500 from somebody whose decimal sign is the comma – is asked again and never guessed.
"""

from __future__ import annotations

import math
import re
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import ProhibitNullCharactersValidator
from django.utils.translation import gettext

from sites.reading import WATT, current_reader, decimal_sign

_NUMBER = re.compile(r"[+\-−]?\d+(?:[.,]\d+)?")
_MAYBE_THOUSANDS = re.compile(r"[+\-−]?[1-9]\d{0,2}[.,]\d{3}")
_POWER = re.compile(rf"\s*({_NUMBER.pattern})\s*(\w*)\s*", re.IGNORECASE)
_WATTS = {"w": 1.0, "mw": 1e-3, "kw": 1e3, "uw": 1e-6, "µw": 1e-6}
# PostgreSQL's and SQLite's whole numbers end here; nobody transmits beyond.
_HIGHEST_HZ = 3_000_000_000_000


def plain_decimal(text: str, *, what: str, example: str) -> Decimal:
    """Read one number with a point or a comma as its decimal sign, or say what was expected.

    >>> plain_decimal("457,0125", what="a number", example="12.5")
    Decimal('457.0125')
    """
    cleaned = text.strip().replace("−", "-").replace(" ", "").replace("\u00a0", "")
    _refuse_what_has_two_meanings(text.strip(), cleaned)
    if re.fullmatch(_NUMBER, cleaned) and len(cleaned) <= 30:
        try:
            return Decimal(cleaned.replace(",", "."))
        except InvalidOperation:  # pragma: no cover - the pattern above admits decimals only
            pass
    raise ValidationError(
        gettext("“{text}” was typed; {what} was expected, for example {example}.").format(
            text=text, what=what, example=example
        )
    )


def _refuse_what_has_two_meanings(text: str, cleaned: str) -> None:
    sign = decimal_sign()
    if re.fullmatch(_MAYBE_THOUSANDS, cleaned) and sign not in cleaned:
        raise ValidationError(
            gettext("“{text}” can mean {large} or {small}. Type one of these two.").format(
                text=text,
                large=cleaned.replace(",", "").replace(".", ""),
                # Without closing zeros the figure has one meaning, whichever sign is used.
                small=cleaned.replace(",", sign).replace(".", sign).rstrip("0").rstrip(sign),
            )
        )


def as_typed(value: float | Decimal) -> str:
    """A figure as its reader would type it, with all its decimals."""
    return f"{value}".replace(".", decimal_sign())


class FigureField(forms.FloatField):
    """A plain number. The unit stands in the label; a comma is taken as a decimal sign.

    ``signed``: the number may be negative; a phone then shows its whole keyboard, since the one for decimals
    has no minus sign on some.
    """

    widget = forms.TextInput

    def __init__(self, *, example: str = "12.5", signed: bool = False, **kwargs: Any) -> None:
        self.example, self.signed = example, signed
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        return as_typed(value) if isinstance(value, float) else value

    def to_python(self, value: Any) -> Any:
        if value is None or value == "" or isinstance(value, float):
            return super().to_python(value)
        if str(value).strip() == "":
            return None
        return float(plain_decimal(str(value), what=gettext("a number"), example=self.example))

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        keyboard = {} if self.signed else {"inputmode": "decimal"}
        return {**keyboard, "autocomplete": "off", "class": "figure"}


class AmountField(forms.DecimalField):
    """A sum of money."""

    widget = forms.TextInput

    def prepare_value(self, value: Any) -> Any:
        return as_typed(value) if isinstance(value, Decimal) else value

    def to_python(self, value: Any) -> Any:
        if value in self.empty_values or not str(value).strip():
            return None
        if isinstance(value, Decimal):
            return value
        return plain_decimal(str(value), what=gettext("an amount"), example="120.50")

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "decimal", "autocomplete": "off", "class": "figure"}


class WholeField(forms.IntegerField):
    """A whole number."""

    widget = forms.TextInput

    def __init__(self, *, example: str = "12", **kwargs: Any) -> None:
        self.example = example
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> int | None:
        if value is None or isinstance(value, int) or str(value).strip() == "":
            return None if not isinstance(value, int) else value
        number = plain_decimal(str(value), what=gettext("a whole number"), example=self.example)
        if number != number.to_integral_value() or abs(number) > _HIGHEST_HZ:
            raise ValidationError(
                gettext("“{value}” was typed; a whole number was expected, for example {example}.").format(
                    value=value, example=self.example
                )
            )
        return int(number)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "numeric", "autocomplete": "off", "class": "figure"}


class HertzField(forms.Field):
    """A frequency or a width shown in ``unit`` and stored in whole hertz."""

    widget = forms.TextInput
    unit, hertz, decimals, example = "MHz", 1_000_000, 5, "457.01250"

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, int):
            return value
        exact = Decimal(value) / self.hertz
        rounded = f"{exact:.{self.decimals}f}"
        text = rounded if Decimal(rounded) == exact else format(exact.normalize(), "f")
        return text.replace(".", decimal_sign())

    def to_python(self, value: Any) -> int | None:
        if value in self.empty_values or not str(value).strip():
            return None
        text = re.sub(rf"\s*{self.unit}\s*$", "", str(value), flags=re.IGNORECASE)
        number = plain_decimal(
            text, what=gettext("a figure in {unit}").format(unit=self.unit), example=self.example
        )
        in_hertz = number * self.hertz
        if in_hertz != in_hertz.to_integral_value():
            raise ValidationError(
                gettext("“{value}” {unit} is finer than one hertz.").format(value=value, unit=self.unit)
            )
        if abs(in_hertz) > _HIGHEST_HZ:
            raise ValidationError(
                gettext("“{value}” {unit} lies beyond 3000 GHz, where radio ends (RR 1.5).").format(
                    value=value, unit=self.unit
                )
            )
        return int(in_hertz)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "decimal", "autocomplete": "off", "class": "figure"}


class MegahertzField(HertzField):
    """A frequency in MHz."""


class KilohertzField(HertzField):
    """A width or a spacing in kHz."""

    unit, hertz, decimals, example = "kHz", 1_000, 2, "12.5"


class PowerField(forms.Field):
    """A power as ``40 dBm``, ``10 W``, ``500 mW``; kept in dBm to 0.01 dB.

    A bare number is dBm, but from somebody who reads powers in watts it could be either, and is asked again.
    """

    widget = forms.TextInput

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, float):
            return value
        if current_reader().power_unit != WATT:
            return as_typed(value)
        # Five figures of a power are finer than the 0.01 dB that are kept.
        watts = f"{Decimal(f'{10 ** (value / 10) / 1e3:.5g}'):f}"
        return f"{watts.replace('.', decimal_sign())} W"

    def to_python(self, value: Any) -> float | None:
        if value in self.empty_values or not str(value).strip():
            return None
        match = re.fullmatch(_POWER, str(value))
        unit = match[2].lower() if match else ""
        if match is None or unit not in {"", "dbm", "dbw", *_WATTS} or len(match[1]) > 30:
            raise ValidationError(
                gettext(
                    "“{value}” was typed; a power in dBm or W was expected, for example 40 dBm or 10 W."
                ).format(value=value)
            )
        number = float(plain_decimal(match[1], what=gettext("a power"), example="40 dBm"))
        if not unit and current_reader().power_unit == WATT:
            raise ValidationError(
                gettext("“{value}” has no unit. Type {value} W or {value} dBm.").format(
                    value=str(value).strip()
                )
            )
        if unit in _WATTS:
            if number <= 0:
                raise ValidationError(
                    gettext(
                        "“{value}” was typed; a power in watts must be above zero, for example 10 W."
                    ).format(value=value)
                )
            number = 10 * math.log10(number * _WATTS[unit] * 1e3)
        elif unit == "dbw":
            number += 30
        return round(number, 2)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"autocomplete": "off", "class": "figure"}


class WordsField(forms.CharField):
    """A list of short words, separated by commas, spaces or lines."""

    def prepare_value(self, value: Any) -> Any:
        return ", ".join(str(word) for word in value) if isinstance(value, list) else value

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value) or ""
        ProhibitNullCharactersValidator()(text)
        return [word for word in re.split(r"[,;\s]+", text) if word]

    def validate(self, value: Any) -> None:
        if self.required and not value:
            raise ValidationError(self.error_messages["required"], code="required")

    def run_validators(self, value: Any) -> None:
        """The list is checked by the model."""


class DaysField(WordsField):
    """A list of whole days."""

    def to_python(self, value: Any) -> Any:
        days = []
        for word in super().to_python(value):
            if not word.isascii() or not word.isdigit() or len(word) > 6:
                raise ValidationError(
                    gettext(
                        "“{word}” was typed; whole days were expected, for example 90, 30, 14, 3."
                    ).format(word=word)
                )
            days.append(int(word))
        return days


class PairsField(forms.CharField):
    """A table of two columns, one row a line, figures separated by a space or a semicolon."""

    widget = forms.Textarea(attrs={"rows": 8, "class": "figure", "spellcheck": "false"})

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, list):
            return "\n".join(
                " ".join(f"{cell:g}" if isinstance(cell, float) else str(cell) for cell in row).replace(
                    ".", decimal_sign()
                )
                for row in value
            )
        return value

    def to_python(self, value: Any) -> Any:
        rows = []
        for number, line in enumerate((super().to_python(value) or "").splitlines(), start=1):
            if not line.strip():
                continue
            cells = [cell for cell in re.split(r"[;\t ]+", line.strip()) if cell]
            if len(cells) != 2:
                raise ValidationError(
                    gettext(
                        "Line {number} is “{line}”; two figures were expected, for example 12.5 -60."
                    ).format(number=number, line=line.strip())
                )
            rows.append(
                [float(plain_decimal(cell, what=gettext("a number"), example="12.5")) for cell in cells]
            )
        return rows

    def validate(self, value: Any) -> None:
        if self.required and not value:
            raise ValidationError(self.error_messages["required"], code="required")

    def run_validators(self, value: Any) -> None:
        """The table is checked by the model."""
