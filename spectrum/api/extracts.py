"""The API of imported extracts: how each kind is read, and what every import did."""

from __future__ import annotations

from typing import Any, ClassVar

from django_filters import rest_framework as filters
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers, status
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from sites.api.fields import DayField, ReferenceField, StructureField, TextField
from sites.api.listing import Contains, IdFilter
from sites.api.parsing import BodyParser
from sites.api.serializers import STAMPS, PlainSerializer, RegisterSerializer
from sites.api.views import ListViewSet, RegisterViewSet
from sites.services.record import Author
from spectrum import selectors
from spectrum.extracts.problems import ExtractError
from spectrum.models import ExtractMapping, ExtractRun
from spectrum.services.extract_uploads import LARGEST_FILE
from spectrum.services.extracts import import_extract


class ExtractMappingSerializer(RegisterSerializer[ExtractMapping]):
    """Which column of an authority's extract is what, and what is assumed where it says nothing."""

    authority_code = serializers.CharField(source="authority.code", read_only=True)
    columns = StructureField(help_text="Field of the register → heading of the column.")
    reading = StructureField(required=False, help_text="Encoding, delimiter, date format, unit, coordinates.")
    statuses = StructureField(required=False, help_text="Words that count as in_use, and words for ended.")
    key = serializers.ListField(child=TextField(max_length=60), required=False, max_length=40)
    own_registrants = serializers.ListField(child=TextField(max_length=200), required=False, max_length=500)
    stand_ins = StructureField(help_text="Per band: radio, mode, antenna, power; height and polarisation.")

    class Meta:
        model = ExtractMapping
        fields = (
            "id",
            "code",
            "title",
            "authority",
            "authority_code",
            "columns",
            "reading",
            "statuses",
            "key",
            "own_registrants",
            "stand_ins",
            *STAMPS,
        )


class ExtractMappingFilter(filters.FilterSet):
    authority = IdFilter()
    title = Contains("title")


class ExtractMappingViewSet(RegisterViewSet):
    """How extracts of authorities are read."""

    queryset = selectors.all_extract_mappings()
    serializer_class = ExtractMappingSerializer
    filterset_class = ExtractMappingFilter
    search_fields = ("code", "title", "authority__code")
    orderings = {
        "code": "code",
        "title": "title",
        "authority_code": "authority__code",
        "changed_at": "changed_at",
    }


class ExtractRunSerializer(PlainSerializer[ExtractRun]):
    """One import: which file, by whom, what it changed and what it found wrong."""

    mapping_code = serializers.CharField(source="mapping.code", read_only=True)
    counts = serializers.DictField(read_only=True)
    report = serializers.DictField(read_only=True)

    class Meta:
        model = ExtractRun
        fields = (
            "id",
            "mapping",
            "mapping_code",
            "mapping_version",
            "file_name",
            "sha256",
            "at",
            "by",
            "by_name",
            "as_of",
            "row_count",
            "counts",
            "report",
        )
        read_only_fields = fields


class ImportRequestSerializer(serializers.Serializer[Any]):
    """A file to import, as multipart/form-data; with dry_run nothing is written."""

    file = serializers.FileField(allow_empty_file=True)
    mapping = ReferenceField(queryset=selectors.all_extract_mappings())
    as_of = DayField(required=False)
    dry_run = serializers.BooleanField(default=False)

    def validate_file(self, file: Any) -> Any:
        if file.size > LARGEST_FILE:
            raise serializers.ValidationError(
                f"The file has {file.size / 2**20:.0f} MB; at most {LARGEST_FILE / 2**20:.0f} MB are taken here. "
                "Split it by licence, or have it imported with manage.py import_extract."
            )
        return file


class ImportAnswerSerializer(serializers.Serializer[Any]):
    """What an import would change (a trial), per kind of object, and what is wrong with the file."""

    row_count = serializers.IntegerField()
    counts = serializers.DictField()
    report = serializers.DictField()


class ExtractRunFilter(filters.FilterSet):
    mapping = IdFilter()
    since = filters.IsoDateTimeFilter("at", lookup_expr="gte")
    until = filters.IsoDateTimeFilter("at", lookup_expr="lte")


class ExtractRunViewSet(ListViewSet):
    """Imports of extracts, latest first; a new one imports a file."""

    parser_classes = (MultiPartParser, BodyParser)  # type: ignore[assignment]  # a file comes as a form
    needs: ClassVar[dict[str, tuple[str, ...]]] = {"create": ("spectrum.add_extractrun",)}
    queryset = selectors.all_extract_runs()
    serializer_class = ExtractRunSerializer
    filterset_class = ExtractRunFilter
    search_fields = ("file_name", "by_name", "mapping__code")
    orderings = {name: name for name in ("at", "as_of", "file_name", "row_count")}

    @extend_schema(
        request={"multipart/form-data": ImportRequestSerializer},
        responses={
            201: ExtractRunSerializer,
            200: OpenApiResponse(ImportAnswerSerializer, description="A trial: nothing was written."),
        },
    )
    def create(self, request: Request) -> Response:
        """Import a file by a mapping, all or nothing: 201 with the import; after a trial 200 with what it would do."""
        asked = ImportRequestSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        file = asked.validated_data["file"]
        try:
            outcome = import_extract(
                file.read(),
                file.name,
                asked.validated_data["mapping"],
                by=Author.of(request.user),
                as_of=asked.validated_data.get("as_of"),
                dry_run=asked.validated_data["dry_run"],
            )
        except ExtractError as error:
            raise serializers.ValidationError(
                {"file": [str(problem) for problem in error.problems]}
            ) from error
        if outcome.run is not None:
            return Response(self.get_serializer(outcome.run).data, status=status.HTTP_201_CREATED)
        answer = {
            "row_count": len(outcome.table.rows),
            "counts": outcome.plan.counts(),
            "report": outcome.report(),
        }
        return Response(ImportAnswerSerializer(answer).data)
