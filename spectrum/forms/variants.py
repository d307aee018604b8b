"""The form of a variant: its name, its purpose and the day for which it is checked."""

from __future__ import annotations

from sites.forms.base import RegisterForm
from spectrum.models import Variant


class VariantForm(RegisterForm):
    class Meta(RegisterForm.Meta):
        model = Variant
        fields = ["name", "as_of", "purpose"]
