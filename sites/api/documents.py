"""The API of documents: what there is, entering one with its file, and the file itself."""

from __future__ import annotations

from typing import Any, ClassVar, cast

from django.apps import apps
from django.conf import settings
from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request

from sites import selectors
from sites.documents import ACCEPTED
from sites.models import Document
from sites.models.documents import OWNERS
from sites.services import documents
from sites.views.documents import handed_out

from .fields import ChoiceField, TextField
from .listing import IdFilter
from .parsing import BodyParser
from .serializers import STAMPS, RegisterSerializer
from .views import RegisterViewSet

OF = [(name, name) for name in OWNERS]


class DocumentSerializer(RegisterSerializer[Document]):
    """A document. Enter it as multipart/form-data with its ``file``; later only kind, title and dated change."""

    of = ChoiceField(choices=OF, source="belongs_to_name", help_text="What kind of object it belongs to.")
    of_id = serializers.IntegerField(source="belongs_to_id", min_value=1, max_value=2**63 - 1)
    file = serializers.FileField(
        write_only=True,
        allow_empty_file=True,
        help_text=f"{ACCEPTED}; at most {settings.DOCUMENT_MOST_MB} MB.",
        error_messages={"required": f"Send a file of at most {settings.DOCUMENT_MOST_MB} MB."},
    )
    title = TextField(required=False, allow_blank=True, max_length=160, help_text="Empty: the file's name.")

    class Meta:
        model = Document
        fields = (
            "id",
            "of",
            "of_id",
            "kind",
            "title",
            "dated",
            "file",
            "file_name",
            "media_type",
            "size_bytes",
            "sha256",
            "entered_by_name",
            *STAMPS,
        )
        read_only_fields = ("file_name", "media_type", "size_bytes", "sha256", "entered_by_name")

    def get_fields(self) -> dict[str, Any]:
        """What is stored already needs no file again."""
        found = super().get_fields()
        if self.instance is not None:
            found["file"].required = False
        return found

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if isinstance(self.instance, Document):
            names = {"belongs_to_name": "of", "belongs_to_id": "of_id", "file": "file"}
            given = {name: attrs.pop(name) for name in names if name in attrs}
            moved = [names[n] for n, value in given.items() if value != getattr(self.instance, n, None)]
            if moved:
                raise serializers.ValidationError(
                    {name: ["It cannot be changed; enter another document."] for name in moved}
                )
        return attrs

    def create(self, validated_data: dict[str, Any]) -> Document:
        file, label = validated_data.pop("file"), OWNERS[validated_data.pop("belongs_to_name")]
        documents.require_owner(self.context["request"].user, label)
        model: Any = apps.get_model(label)
        owner = model._default_manager.filter(pk=validated_data.pop("belongs_to_id")).first()
        if owner is None:
            raise serializers.ValidationError({"of_id": ["There is no such object in the register."]})
        for name in ("reason", "version"):
            validated_data.pop(name, None)
        document = documents.new_document(owner, **validated_data)
        return self.written(lambda: documents.attach(document, file.chunks(), file.name, by=self.author))


class DocumentFilter(filters.FilterSet):
    of = filters.ChoiceFilter(choices=OF, method="of_a_kind", label="What kind of object it belongs to.")
    of_id = IdFilter("belongs_to_id")
    kind = filters.ChoiceFilter(choices=Document.Kind.choices)
    sha256 = filters.CharFilter(lookup_expr="iexact")

    def of_a_kind(self, rows: QuerySet[Document], _: str, value: str) -> QuerySet[Document]:
        return rows.filter(selectors.of_model(OWNERS[value]))


class DocumentViewSet(RegisterViewSet):
    """Files that belong to objects of the register."""

    queryset = selectors.all_documents()
    serializer_class = DocumentSerializer
    filterset_class = DocumentFilter
    parser_classes = (MultiPartParser, BodyParser)  # type: ignore[assignment]  # a file comes as a form
    search_fields = ("title", "file_name", "entered_by_name")
    orderings = {name: name for name in ("title", "dated", "created_at", "size_bytes", "changed_at")}
    needs: ClassVar[dict[str, tuple[str, ...]]] = {"file": ("places.view_document",)}

    def get_queryset(self) -> QuerySet[Document]:
        seen = [label for label in OWNERS.values() if documents.may_see(self.request.user, label)]
        return selectors.all_documents().filter(selectors.of_model(*seen))

    def check_object_permissions(self, request: Request, obj: Any) -> None:
        """Whoever changes or removes a document may change what it belongs to."""
        super().check_object_permissions(request, obj)
        if request.method not in ("GET", "HEAD"):
            documents.require_owner(request.user, obj.belongs_to_label)

    def perform_content_negotiation(self, request: Request, force: bool = False) -> Any:
        """Whoever asks for the file need not accept JSON."""
        return super().perform_content_negotiation(request, force or self.action == "file")

    @extend_schema(responses={(200, "application/octet-stream"): OpenApiTypes.BINARY})
    @action(detail=True, methods=["get"])
    def file(self, request: Request, pk: str = "") -> Any:
        """The file itself, after it was compared with its SHA-256; 409 where it is not what was entered."""
        return handed_out(cast(Document, self.get_object()))
