"""An authority's rules on which change needs filing, as rows to fill in: what changes, by how much, what it needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.filing import QUANTITIES, RuleFormatError, read_rules
from licences.filing.rules import MOST_RULES, Needs
from sites.forms.figures import as_typed, plain_decimal

EMPTY_ROWS: Final = 3
_PARTS: Final = ("quantity", "more_than", "needs", "source")
_NEEDS: Final = ((Needs.NEW_GRANT.value, _("a new grant")), (Needs.NOTICE.value, _("a notice")))


class FilingRulesWidget(forms.Widget):
    """A table with a row for each rule and a few empty ones; its value is what was typed, row by row."""

    is_wide = True

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        rows: list[Mapping[str, Any]] = [*(value or []), *({} for _row in range(EMPTY_ROWS))][:MOST_RULES]
        return format_html(
            '<input type="hidden" name="{}-rows" value="{}"><table class="rules" id="{}"><thead><tr>{}</tr></thead>'
            "<tbody>{}</tbody></table>",
            name,
            len(rows),
            (attrs or {}).get("id", name),
            format_html_join("", '<th scope="col">{}</th>', ((title,) for title in ("", *_titles()))),
            format_html_join(
                "",
                '<tr><th scope="row">{}</th>{}</tr>',
                ((i + 1, self._row(name, i, row)) for i, row in enumerate(rows)),
            ),
        )

    def _row(self, name: str, index: int, row: Mapping[str, Any]) -> SafeString:
        controls = (
            forms.Select(choices=_quantities()),
            forms.TextInput({"class": "figure", "inputmode": "decimal", "size": 8, "autocomplete": "off"}),
            forms.Select(choices=_NEEDS),
            forms.TextInput({"maxlength": 200}),
        )
        return format_html_join(
            "",
            '<td data-label="{}">{}</td>',
            (
                (
                    title,
                    control.render(
                        f"{name}-{index}-{part}",
                        row.get(part, ""),
                        {"aria-label": gettext("Rule {number}: {part}").format(number=index + 1, part=title)},
                    ),
                )
                for control, part, title in zip(controls, _PARTS, _titles(), strict=True)
            ),
        )

    def value_from_datadict(self, data: Mapping[str, Any], _files: Any, name: str) -> Any:
        sent = str(data.get(f"{name}-rows", ""))
        rows = int(sent) if sent.isdecimal() and len(sent) < 4 else 0
        typed = (
            {part: str(data.get(f"{name}-{index}-{part}", "")).strip() for part in _PARTS}
            for index in range(min(rows, MOST_RULES))
        )
        return [row for row in typed if any(row[part] for part in _PARTS if part != "needs")]

    def value_omitted_from_data(self, data: Mapping[str, Any], _files: Any, name: str) -> bool:
        return f"{name}-rows" not in data

    def id_for_label(self, _id: str) -> str:
        return ""  # every control of the table has a label of its own


class FilingRulesField(forms.Field):
    """The rules in their stored form (``licences.filing.read_rules``) from what was typed in rows."""

    widget = FilingRulesWidget

    def prepare_value(self, value: Any) -> Any:
        return [{**row, "more_than": _amount(row.get("more_than", ""))} for row in value or []]

    def to_python(self, value: Any) -> list[dict[str, Any]]:
        rules, errors = [], []
        for number, row in enumerate(value or [], start=1):
            try:
                rules.append(_rule(row))
                read_rules(rules[-1:])
            except (ValidationError, RuleFormatError) as error:
                sentences = error.messages if isinstance(error, ValidationError) else [str(error)]
                errors += [
                    gettext("Rule {number}: {error}").format(number=number, error=sentence)
                    for sentence in sentences
                ]
        if errors:
            raise ValidationError(errors)
        return rules

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return bool(self.to_python(data) != (initial or []))
        except ValidationError:
            return True


def _rule(row: Mapping[str, Any]) -> dict[str, Any]:
    if row["quantity"] not in QUANTITIES:
        raise ValidationError(gettext("Choose what changes, or empty the row."))
    amount = row["more_than"]
    more_than = float(plain_decimal(amount, what=gettext("a number"), example="3")) if amount else 0.0
    if more_than < 0:
        raise ValidationError(gettext("The amount cannot be negative."))
    if more_than and not QUANTITIES[row["quantity"]][1]:
        raise ValidationError(gettext("This is the same or it is not; leave the amount empty."))
    return {
        "quantity": row["quantity"],
        "more_than": int(more_than) if more_than == int(more_than) else more_than,
        "needs": row["needs"] or Needs.NEW_GRANT.value,
        "source": row["source"],
    }


def _amount(stored: Any) -> str:
    """An amount as it is typed; none is an empty field."""
    if isinstance(stored, str):
        return stored
    return as_typed(stored) if stored else ""


def _titles() -> Sequence[str]:
    return (
        gettext("a change of"),
        gettext("by more than"),
        gettext("needs"),
        gettext("where it is written"),
    )


def _quantities() -> Iterable[tuple[str, str]]:
    yield "", gettext("no rule")
    for code, (name, unit) in QUANTITIES.items():
        words = gettext(name)
        yield code, f"{words} ({gettext(unit)})" if unit else words
