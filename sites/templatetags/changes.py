"""The change record in words."""

from __future__ import annotations

from django import template

from sites.views.changes import what_changed

register = template.Library()
register.filter("what_changed", what_changed)
