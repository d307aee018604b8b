"""The forms of a document: entered with its file, later only what is said about it."""

from __future__ import annotations

from typing import Any, ClassVar, cast

from django import forms
from django.conf import settings
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.documents import ACCEPTED
from sites.models import Document

from .base import RegisterForm, Section

IMAGES = "image/jpeg,image/png"
_ANY = f"application/pdf,{IMAGES},text/plain,.pdf,.png,.jpg,.jpeg,.txt"


class FileChoice(forms.FileField):
    """A file to store. Whether it is one that is taken is judged when it is stored, by what it holds."""

    def __init__(self, *, accept: str = _ANY, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.FileInput(attrs={"accept": accept}))
        super().__init__(allow_empty_file=True, **kwargs)

    def say_bound(self) -> None:
        """Say how large a file may be; one beyond every bound was passed over and is missing here."""
        most = f"{settings.DOCUMENT_MOST_MB} MB"
        self.help_text = self.help_text or gettext("{accepted}; at most {most}.").format(
            accepted=gettext(ACCEPTED), most=most
        )
        self.error_messages["required"] = gettext(
            "Choose a file of at most {most}; a larger one is not taken."
        ).format(most=most)


class DocumentForm(RegisterForm):
    """What is said about a document."""

    sections: ClassVar[tuple[Section, ...]] = ((_("What it is"), ("kind", "title", "dated")),)

    class Meta(RegisterForm.Meta):
        model = Document
        fields = ["kind", "title", "dated"]


class NewDocumentForm(DocumentForm):
    """A document with its file; an empty title becomes the file's name."""

    sections = ((_("The file"), ("file",)), (_("What it is"), ("kind", "title", "dated")))

    file = FileChoice(label=_("file"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["title"].required = False
        self.fields["title"].help_text = gettext("Empty: the file's name.")
        self.needed.discard("title")
        cast(FileChoice, self.fields["file"]).say_bound()
