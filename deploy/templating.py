"""The templates of the register leave a bare figure as it is.

Django writes ``{{ 12.5 }}`` as ``12,5`` where the language of the page has a comma, in the middle of a drawing's
coordinates too. Here figures for people go through the filters of ``sites/templatetags/figures.py``, which know the
reader; whatever else stands in a page is for machines and never changes with its language.
"""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.template import TemplateDoesNotExist
from django.template.backends import django as backend
from django.template.context import make_context


class Templates(backend.DjangoTemplates):
    """Django's templates, with its own localisation of figures and days turned off."""

    def from_string(self, template_code: str) -> _Template:
        return _Template(self.engine.from_string(template_code), self)

    def get_template(self, template_name: str) -> _Template:
        return _Template(super().get_template(template_name).template, self)


class _Template(backend.Template):
    def render(self, context: dict[str, Any] | None = None, request: HttpRequest | None = None) -> str:
        filled = make_context(context, request, autoescape=self.backend.engine.autoescape)
        filled.use_l10n = False
        try:
            return self.template.render(filled)
        except TemplateDoesNotExist as error:
            backend.reraise(error, self.backend)
