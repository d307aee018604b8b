"""Values as they cross the edge: MHz and kHz outside, whole hertz inside, and nothing the database cannot hold."""

from __future__ import annotations

import datetime as dt
from decimal import Context, Decimal, InvalidOperation
from typing import Any, Final, NoReturn, cast

from django.db.models import Model
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

#: No quantity of the register, in the unit of its name, is larger.
LARGEST_NUMBER: Final = 1e9
#: Free JSON may hold larger ones, such as times in milliseconds.
LARGEST_INSIDE: Final = 1e15
LONGEST_TEXT: Final = 20_000
#: RR 1.5: radio waves are those below 3 000 GHz.
HIGHEST_FREQUENCY_HZ: Final = 3_000_000_000_000
WIDEST_CHANNEL_HZ: Final = 2_000_000_000
FIRST_DATE: Final = dt.date(1900, 1, 1)
LAST_DATE: Final = dt.date(2200, 12, 31)

#: More digits than any text that is read as a number here.
_EXACT: Final = Context(prec=100)
_DECIMAL_SCHEMA: Final = {
    "type": ["string", "number"],
    "description": "Sent as text with all its digits; a number is taken too.",
}


def shown(value: object) -> str:
    """What was sent, short enough to stand in a sentence."""
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}…"


class HertzField(serializers.Field[int, Any, str, Any]):
    """A quantity stored in whole hertz, written and read in a larger unit with all its digits."""

    unit: str
    decimals: int  # digits after the point that make 1 Hz
    shown_decimals: int  # always shown
    example: str
    limit_hz: int

    default_error_messages = {
        "required": "Give a value in {unit}, for example {example}.",
        "null": "Give a value in {unit}, for example {example}; null was sent.",
        "invalid": "{value} is not a number in {unit}; for example {example} was expected.",
        "resolution": "{value} {unit} is finer than 1 Hz; give at most {decimals} decimals, for example {example}.",
        "range": "{value} {unit} is out of range; it must lie {range}.",
    }

    def __init__(self, *, signed: bool = False, **kwargs: Any) -> None:
        self.signed = signed
        super().__init__(**kwargs)

    def fail(self, key: str, **kwargs: Any) -> NoReturn:
        super().fail(key, unit=self.unit, example=self.example, decimals=self.decimals, **kwargs)

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, str | int | float | Decimal):
            self.fail("invalid", value=shown(data))
        text = repr(data) if isinstance(data, float) else str(data).strip()
        try:
            value = Decimal(text if len(text) <= 60 else "")
        except InvalidOperation:
            self.fail("invalid", value=shown(data))
        if not value.is_finite():
            self.fail("invalid", value=shown(data))
        limit = Decimal(self.limit_hz).scaleb(-self.decimals).normalize()
        lowest = -limit if self.signed else Decimal(0)
        if not lowest <= value <= limit or (not self.signed and value == 0):
            between = f"from -{limit:f} to {limit:f}" if self.signed else f"above 0 and be at most {limit:f}"
            self.fail("range", value=text, range=between)
        hertz = _EXACT.multiply(value, Decimal(10**self.decimals))
        if hertz != hertz.to_integral_value():
            self.fail("resolution", value=text)
        return int(hertz)

    def to_representation(self, value: int) -> str:
        exact = Decimal(value).scaleb(-self.decimals).normalize()
        digits = max(self.shown_decimals, -int(exact.as_tuple().exponent))
        return f"{exact:.{digits}f}"


@extend_schema_field(_DECIMAL_SCHEMA | {"examples": ["451.00625"]})
class MegahertzField(HertzField):
    """A frequency: MHz with at least five decimals outside, hertz inside."""

    unit, decimals, shown_decimals, example = "MHz", 6, 5, "451.00625"
    limit_hz = HIGHEST_FREQUENCY_HZ


@extend_schema_field(_DECIMAL_SCHEMA | {"examples": ["12.5"]})
class KilohertzField(HertzField):
    """A width: kHz outside, hertz inside."""

    unit, decimals, shown_decimals, example = "kHz", 3, 0, "12.5"
    limit_hz = WIDEST_CHANNEL_HZ


class NumberField(serializers.FloatField):
    """A finite number of a size that a quantity of the register can have."""

    default_error_messages = {
        "required": "Give a number.",
        "null": "Give a number; null was sent.",
        "invalid": "This is not a number; for example 12.5 was expected.",
        "overflow": "The number is out of range; it must lie between -1e9 and 1e9.",
        "max_string_length": "This is not a number; for example 12.5 was expected.",
    }

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool):
            self.fail("invalid")
        value: float = super().to_internal_value(data)
        if abs(value) > LARGEST_NUMBER:
            self.fail("overflow")
        return value


class WholeNumberField(serializers.IntegerField):
    """A whole number; true and false are none."""

    default_error_messages = {
        "required": "Give a whole number.",
        "null": "Give a whole number; null was sent.",
        "invalid": "This is not a whole number; for example 12 was expected.",
        "max_string_length": "This is not a whole number; for example 12 was expected.",
        "max_value": "The number must be at most {max_value}.",
        "min_value": "The number must be at least {min_value}.",
    }

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", 0)
        kwargs.setdefault("max_value", 2_147_483_647)
        super().__init__(**kwargs)


class TextField(serializers.CharField):
    """Text of a length that somebody may read."""

    default_error_messages = {
        "required": "Give a text.",
        "null": "Give a text; null was sent. Send an empty text for none.",
        "blank": "Give a text; it was empty.",
        "invalid": "This is not a text; put it in quotation marks.",
        "max_length": "The text is too long; at most {max_length} characters are kept.",
    }

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", LONGEST_TEXT)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):  # a number read as text would lose its leading zeros
            self.fail("invalid")
        text: str = super().to_internal_value(data)
        return text


class ChoiceField(serializers.ChoiceField):
    """One of a few words."""

    default_error_messages = {
        "required": "Give one of the choices.",
        "null": "Give one of the choices; null was sent.",
        "invalid_choice": "This is none of the choices.",
    }

    def to_internal_value(self, data: Any) -> Any:
        if data == "" and self.allow_blank:
            return ""
        if not isinstance(data, str) or data not in self.choices:
            raise serializers.ValidationError(
                f"{shown(data)} is none of the choices; expected {', '.join(map(str, self.choices))}."
            )
        return data


class DayField(serializers.DateField):
    """A date of this or a neighbouring century."""

    default_error_messages = {
        "required": "Give a date, for example 2031-06-30.",
        "null": "Give a date, for example 2031-06-30; null was sent.",
        "invalid": "This is not a date; year-month-day was expected, for example 2031-06-30.",
        "datetime": "This is a moment; a date was expected, for example 2031-06-30.",
        "range": "{value} is out of range; dates lie from 1900-01-01 to 2200-12-31.",
    }

    def to_internal_value(self, value: Any) -> dt.date:
        day: dt.date = super().to_internal_value(value)
        if not FIRST_DATE <= day <= LAST_DATE:
            self.fail("range", value=day.isoformat())
        return day


class ReferenceField(serializers.PrimaryKeyRelatedField[Model]):
    """Another object of the register, by its id."""

    default_error_messages = {
        "required": "Give the id of an object in the register.",
        "null": "Give the id of an object in the register; null was sent.",
        "does_not_exist": "There is no such object: the id {pk_value} is not in the register.",
        "incorrect_type": "This is not an id; a whole number was expected.",
    }

    def to_internal_value(self, data: Any) -> Model:
        number: Any = data.strip() if isinstance(data, str) else data
        if isinstance(number, str) and number.isascii() and number.isdigit() and len(number) < 20:
            number = int(number)
        if isinstance(number, bool) or not isinstance(number, int):
            self.fail("incorrect_type")
        if not 0 < number < 2**63:
            self.fail("does_not_exist", pk_value=shown(data))
        return super().to_internal_value(cast(Any, number))


@extend_schema_field({"type": "object", "additionalProperties": True})
class StructureField(serializers.JSONField):
    """A JSON object of free content, of a depth, a size and with values that both databases can store."""

    DEEPEST: Final = 12
    LARGEST: Final = 50_000

    default_error_messages = {
        "null": "Give an object; null was sent.",
        "object": "This is not an object in braces.",
        "deep": "This is nested too deeply; at most 12 levels are taken.",
        "large": "This is too large; at most 50000 values are taken.",
        "number": "It holds a number that is not finite or beyond ±1e15.",
        "text": "It holds a text with a NUL or half a surrogate pair; remove that character.",
    }

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, dict):
            self.fail("object")
        level: list[Any] = [data]
        count = 0
        for _ in range(self.DEEPEST):
            below: list[Any] = []
            for value in level:
                self._check(value)
                if isinstance(value, dict):
                    below += [*value.keys(), *value.values()]
                elif isinstance(value, list):
                    below += value
            count += len(below)
            if count > self.LARGEST:
                self.fail("large")
            level = below
        if level:
            self.fail("deep")
        return super().to_internal_value(data)

    def _check(self, value: Any) -> None:
        if isinstance(value, int | float) and not abs(value) <= LARGEST_INSIDE:  # NaN is not either
            self.fail("number")
        if isinstance(value, str) and any(c == "\x00" or "\ud800" <= c <= "\udfff" for c in value):
            self.fail("text")
