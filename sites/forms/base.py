"""What every form of the register does: units at the edge, kept input, errors beside their field."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.core.validators import ProhibitNullCharactersValidator
from django.db import models
from django.utils.translation import gettext

from sites.errors import RegisterError
from sites.lazily import Words

from .figures import AmountField, FigureField, WholeField

COMPARED = 5000  # codes that a mistyped one is compared with
MAY_BE_NEGATIVE = ("_dbm", "_db", "_dbi", "_deg", "ground_height_m")
Section = tuple[Words, tuple[str, ...]]


def form_field(field: models.Field[Any, Any], **kwargs: Any) -> forms.Field | None:
    """The form field of a model field: figures typed freely, dates by the browser's own picker."""
    if isinstance(field, models.FloatField):
        signed = field.name.endswith(MAY_BE_NEGATIVE)
        return field.formfield(form_class=FigureField, signed=signed, **kwargs)
    if isinstance(field, models.DecimalField):
        return field.formfield(form_class=AmountField, **kwargs)
    if isinstance(field, models.DateField):
        kwargs["widget"] = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    elif isinstance(field, models.IntegerField) and not field.choices:
        return field.formfield(form_class=WholeField, **kwargs)
    elif isinstance(field, models.TextField):
        kwargs["widget"] = forms.Textarea(attrs={"rows": 3})
    return field.formfield(**kwargs)


@dataclass(frozen=True)
class ShownSection:
    """One heading of a form and the fields under it, for the template."""

    title: Words
    fields: list[forms.BoundField]


class RegisterForm(forms.ModelForm):
    """A form of one object. ``stored_as`` maps a field in the edge's unit to the model field it fills.

    A hidden ``version`` carries what the person saw, so that a write over
    somebody else's is refused by the service.
    """

    stored_as: ClassVar[dict[str, str]] = {}
    sections: ClassVar[tuple[Section, ...]] = ()

    version = forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=1, max_value=2**31 - 1)

    class Meta:
        formfield_callback = form_field

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.label_suffix = ""
        for name, attribute in self.stored_as.items():
            value = getattr(self.instance, attribute)
            if value is not None:
                self.initial.setdefault(name, value)
        self.initial["version"] = self.instance.version if self.instance.pk else None
        self.now_in_register: dict[str, Any] = {}
        for name, field in self.fields.items():
            plain_messages(name, field)
            say_empty(field, gettext("choose") if field.required else gettext("none"))
        self.needed = {name for name, field in self.fields.items() if field.required}

    def shown_sections(self) -> Iterator[ShownSection]:
        """The visible fields, in the order in which the person knows things."""
        placed: set[str] = set()
        for title, names in self.sections:
            placed.update(names)
            yield ShownSection(title, [self[name] for name in names if name in self.fields])
        rest = [field for field in self.visible_fields() if field.name not in placed]
        if rest:
            yield ShownSection("", rest)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for name, attribute in self.stored_as.items():
            if name in data:
                setattr(self.instance, attribute, data[name])
        return data

    @property
    def expected_version(self) -> int | None:
        """The version that the person saw, as the form carried it."""
        return self.cleaned_data.get("version")

    def take_error(self, error: ValidationError | RegisterError) -> None:
        """Put what the service refused beside the field that it is about."""
        if isinstance(error, RegisterError):
            self._take(error.field, [error.message])
        elif hasattr(error, "error_dict"):
            for name, found in error.error_dict.items():
                self._take(name, [e for one in found for e in self._said(name, one)])
        else:
            self._take("", error.messages)

    def take_stale(self, message: str, stored: models.Model | None) -> None:
        """Say who was first, keep what was typed, and show beside it what the register has now."""
        self.add_error(None, message)
        if stored is not None:
            self.show_beside(type(self)(instance=stored))

    def show_beside(self, fresh: RegisterForm) -> None:
        """Note beside each field what another form of the same object, filled from the register, has there."""
        for name in self.fields:
            now = fresh[name].value()
            if isinstance(self.fields[name], forms.FileField):
                continue
            if name != "version" and str(now if now is not None else "") != str(self[name].value() or ""):
                self.now_in_register[name] = now if now not in (None, "") else gettext("empty")

    def _take(self, name: str, messages: list[str]) -> None:
        name = self._edge_name(name)
        for message in messages:
            self.add_error(name if name in self.fields else None, message)

    def _edge_name(self, attribute: str) -> str:
        back = {stored: name for name, stored in self.stored_as.items()}
        return back.get(attribute, "" if attribute == NON_FIELD_ERRORS else attribute)

    def _get_validation_exclusions(self) -> set[str]:
        # The stored fields are filled in clean(), so the model's rules about them can be checked here.
        excluded: set[str] = super()._get_validation_exclusions()  # type: ignore[misc]
        return excluded - set(self.stored_as.values())

    def _update_errors(self, errors: ValidationError) -> None:
        if not hasattr(errors, "error_dict"):
            super()._update_errors(errors)  # type: ignore[misc]
            return
        known = set(self.errors)
        for attribute, found in errors.error_dict.items():
            name = self._edge_name(attribute)
            if name not in known:  # a field that could not be read has its own message already
                self.add_error(
                    name if name in self.fields else None,
                    [e for one in found for e in self._said(attribute, one)],
                )

    def _said(self, attribute: str, refused: ValidationError) -> list[str]:
        """What the model refused, in words that name what was typed where its own do not."""
        if refused.code == "unique":
            value = getattr(self.instance, attribute, "")
            return [gettext("“{value}” is in the register already; choose another.").format(value=value)]
        return list(refused.messages)


def plain_messages(name: str, field: forms.Field) -> None:
    """Give a field error messages that say what was expected."""
    label = (field.label or name.replace("_", " ")).strip()
    field.error_messages["required"] = gettext("Give the {label}.").format(
        label=label[:1].lower() + label[1:]
    )
    if isinstance(field, forms.DateField):
        field.error_messages["invalid"] = gettext(
            "A date was expected as year-month-day, for example 2026-05-31."
        )
    elif isinstance(field, forms.ModelChoiceField):
        field.error_messages["invalid_choice"] = gettext(
            "What was chosen is not in the register; choose from the list."
        )


def say_empty(field: forms.Field, word: str) -> None:
    """Say in a list of choices what choosing nothing means."""
    if isinstance(field, forms.ModelChoiceField):
        if field.empty_label is not None:
            field.empty_label = word
            field.widget.choices = field.choices
    elif isinstance(field, forms.ChoiceField):
        listed: Any = field.choices
        field.choices = [(value, word if value == "" else label) for value, label in listed]


class CodeField(forms.CharField):
    """An object named by its code: quicker to type than to find in a long list.

    ``find`` gives the object of a typed code or None, ``written`` the code of an
    object, ``rows`` the objects there are; a few of their codes are compared with
    a mistyped one.
    """

    def __init__(
        self,
        *,
        noun: Words,
        rows: Callable[[], models.QuerySet[Any]],
        find: Callable[[str], Any],
        written: Callable[[Any], str],
        options: str = "",
        **kwargs: Any,
    ) -> None:
        self.noun, self.rows, self.find, self.written = noun, rows, find, written
        attributes = {"autocomplete": "off", "class": "code", "spellcheck": "false"}
        if options:
            attributes["list"] = options
        kwargs.setdefault("widget", forms.TextInput(attrs=attributes))
        kwargs.setdefault("max_length", 140)
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, int):
            value = self.rows().filter(pk=value).first()
        return self.written(value) if isinstance(value, models.Model) else value

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        ProhibitNullCharactersValidator()(text)
        found = self.find(text)
        if found is None:
            known = [self.written(one).upper() for one in self.rows()[:COMPARED]]
            near = difflib.get_close_matches(text.upper(), known, n=3, cutoff=0.6)
            problem = gettext("“{text}” names no {noun} in the register.").format(text=text, noun=self.noun)
            if near:
                problem = f"{problem} {gettext('Near to it: {codes}.').format(codes=', '.join(near))}"
            raise ValidationError(problem)
        return found

    def run_validators(self, value: Any) -> None:
        """What was found is an object, not text."""
