"""Reading the administration's forms as a browser would: what a page shows is what it sends back."""

from __future__ import annotations

from typing import Any

from django.forms import BaseForm


def what_it_sends(response: Any) -> dict[str, Any]:
    """The fields of an administration page with their present values, as the browser would post them."""
    sent = _fields(response.context["adminform"].form)
    for inline in response.context["inline_admin_formsets"]:
        formset = inline.formset
        sent |= _fields(formset.management_form)
        for form in formset.forms:
            sent |= _fields(form)
    return sent


def what_was_refused(response: Any) -> str:
    """All error messages on an administration page."""
    assert response.status_code == 200
    form = response.context["adminform"].form
    formsets = [inline.formset for inline in response.context["inline_admin_formsets"]]
    texts = [str(error) for found in form.errors.values() for error in found]
    texts += [
        str(error)
        for formset in formsets
        for one in formset.errors
        for found in one.values()
        for error in found
    ]
    texts += [str(error) for formset in formsets for error in formset.non_form_errors()]
    return " | ".join(texts)


def _fields(form: BaseForm) -> dict[str, Any]:
    sent: dict[str, Any] = {}
    for field in form:
        value = field.field.prepare_value(field.value()) if not form.is_bound else field.value()
        if value is None or value is False:
            continue
        if isinstance(value, list):
            sent[field.html_name] = [getattr(one, "pk", one) for one in value]
        else:
            sent[field.html_name] = "on" if value is True else getattr(value, "pk", value)
    return sent
