"""The form for a layer of the map: a GeoJSON file, or its text."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.models import MapLayer
from sites.shapes import MOST_BYTES

from .base import RegisterForm


class MapLayerForm(RegisterForm):
    """A layer. A file, where one is given, takes the place of the text."""

    file = forms.FileField(
        label=_("GeoJSON file"), required=False, help_text=_("In UTF-8, at most 2 MB. Or put its text below.")
    )

    class Meta(RegisterForm.Meta):
        model = MapLayer
        fields = ["name", "source", "place", "shown", "file", "shapes"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["shapes"].required = False

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        given = data.get("file")
        if given:
            if given.size > MOST_BYTES:
                self.add_error(
                    "file",
                    gettext("The file has {size} MB; at most 2 MB are drawn.").format(
                        size=f"{given.size / 1000000.0:.1f}"
                    ),
                )
                return data
            try:
                data["shapes"] = given.read().decode("utf-8-sig").replace("\x00", "")
            except UnicodeDecodeError:
                self.add_error("file", gettext("The file is not text in UTF-8. A GeoJSON file was expected."))
        elif not data.get("shapes") and "file" not in self.errors:
            self.add_error("file", gettext("Give a GeoJSON file, or its text below."))
        return data
