"""Documents: licence letters, certificates, photos and the like, each attached to one object of the register."""

from __future__ import annotations

from django.contrib.contenttypes.fields import GenericForeignKey, GenericRelation
from django.contrib.contenttypes.models import ContentType
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from sites.documents import FORMS

from .registered import Registered

#: What documents can be attached to: the name in addresses and the API, and the model.
OWNERS = {
    "site": "places.site",
    "licence": "licences.licence",
    "application": "licences.application",
    "link": "spectrum.link",
    "commissioning-record": "spectrum.commissioningrecord",
    "interference-entry": "spectrum.interferenceentry",
}
OWNER_NAMES = {label: name for name, label in OWNERS.items()}


class Document(Registered):
    """A file that belongs to one object. The file itself is never changed; a better one is a document of its own."""

    class Kind(models.TextChoices):
        LETTER = "letter", _("letter")
        LICENCE = "licence", _("licence or permit")
        CERTIFICATE = "certificate", _("certificate")
        AGREEMENT = "agreement", _("agreement")
        PHOTO = "photo", _("photo")
        DRAWING = "drawing", _("drawing")
        MEASUREMENT = "measurement", _("measurement")
        OTHER = "other", _("other")

    belongs_to_type = models.ForeignKey(
        ContentType,
        on_delete=models.PROTECT,
        related_name="+",
        editable=False,
        verbose_name=_("kind of object"),
    )
    belongs_to_id = models.PositiveBigIntegerField(_("number of the object"), editable=False)
    belongs_to = GenericForeignKey("belongs_to_type", "belongs_to_id")
    kind = models.CharField(_("kind"), max_length=12, choices=Kind.choices, default=Kind.LETTER)
    title = models.CharField(_("title"), max_length=160)
    dated = models.DateField(_("date of the document"), null=True, blank=True)
    file_name = models.CharField(_("name of the file"), max_length=160, editable=False)
    media_type = models.CharField(
        _("form of the file"),
        max_length=20,
        choices=[(f, _(form.words)) for f, form in FORMS.items()],
        editable=False,
    )
    size_bytes = models.PositiveBigIntegerField(_("size (bytes)"), editable=False)
    sha256 = models.CharField(_("SHA-256"), max_length=64, editable=False)
    stored_as = models.CharField(_("stored as"), max_length=32, unique=True, editable=False)
    entered_by_name = models.CharField(_("entered by"), max_length=200, editable=False)

    class Meta:
        verbose_name = _("document")
        verbose_name_plural = _("documents")
        ordering = ["-dated", "-id"]
        indexes = [models.Index(fields=["belongs_to_type", "belongs_to_id"], name="document_belongs_to")]
        constraints = [
            models.UniqueConstraint(
                fields=["belongs_to_type", "belongs_to_id", "sha256"],
                name="document_once_on_an_object",
                violation_error_message=_("This file is attached there already."),
            ),
            models.CheckConstraint(
                condition=Q(size_bytes__gt=0),
                name="document_not_empty",
                violation_error_message=_("The file is empty."),
            ),
            models.CheckConstraint(
                condition=~Q(title=""),
                name="document_title_given",
                violation_error_message=_("A document needs a title."),
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def belongs_to_label(self) -> str:
        """The label of the model of what it belongs to."""
        return f"{self.belongs_to_type.app_label}.{self.belongs_to_type.model}"

    @property
    def belongs_to_name(self) -> str:
        """The kind of what it belongs to, as addresses and the API name it."""
        return OWNER_NAMES[self.belongs_to_label]


def documents_of_it() -> GenericRelation:
    """The field of a model whose objects have documents; a removed object takes them along."""
    return GenericRelation(Document, content_type_field="belongs_to_type", object_id_field="belongs_to_id")
