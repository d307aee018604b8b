"""Documents: attached on the page of what they belong to, listed, and handed out to those who may see that."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, cast

import django_filters as filters
from django import forms
from django.apps import apps
from django.db import models
from django.db.models import QuerySet
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites import selectors
from sites.documents import FORMS, ChangedFileError, opened
from sites.documents.content import name_for
from sites.forms.base import RegisterForm
from sites.forms.documents import DocumentForm, NewDocumentForm
from sites.models import Document, Registered
from sites.models.documents import OWNER_NAMES, OWNERS
from sites.on_day import PARAMETER as DAY
from sites.reading import written_day
from sites.services import documents, record
from sites.services.record import Author
from sites.templatetags.figures import fixed

from .access import Page, require
from .addresses import page_of
from .editing import ChangePage, EditPage, RemovePage
from .listing import Column, ListPage
from .on_day import ObjectPage
from .places import search_filter


def documents_context(request: HttpRequest, owner: Registered) -> dict[str, Any]:
    """What the section on documents of an object's page needs; nothing for whoever may not see them."""
    label = owner._meta.label_lower
    if not documents.may_see(request.user, label):
        return {}
    add = ""
    if documents.may_attach(request.user, label):
        add = reverse("document-add", args=[OWNER_NAMES[label], owner.pk])
    return {"documents": {"rows": selectors.documents_of(owner), "add": add}}


def handed_out(document: Document) -> FileResponse:
    """The file of a document, as a file to be saved: never shown in the register's own name, never run.

    ChangedFileError where it is not the file that was entered.
    """
    form = FORMS[document.media_type]
    file = opened(document.stored_as, document.sha256, document.title)
    name = name_for(document.title, form)
    answer = FileResponse(file, as_attachment=True, filename=name, content_type=form.media_type)
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "sandbox; default-src 'none'; frame-ancestors 'none'"
    answer["Cache-Control"] = "private, no-store"
    return answer


class OwnedPage(Page):
    """A page of one document: for whoever may see what the document belongs to, or keep its documents."""

    keeps: ClassVar[bool] = False

    def admit(self, request: HttpRequest, **kwargs: Any) -> None:
        self.document = get_object_or_404(selectors.all_documents(), pk=kwargs["pk"])
        self.reach(request, self.document.belongs_to_label)

    def reach(self, request: HttpRequest, label: str) -> None:
        """Refuse whom the role does not bring to what the document belongs to."""
        needs = documents.to_keep(label) if self.keeps else documents.permission("view", label)
        require(request.user, needs, self.act)


class DocumentPage(ObjectPage, OwnedPage):
    """One document; as of a day also one that was removed since, for whoever may see what it belonged to."""

    shows = Document
    needs = "places.view_document"
    act = _("reading a document")

    def admit(self, request: HttpRequest, **kwargs: Any) -> None:
        if not (self.dated and request.GET.get(DAY)):
            super().admit(request, **kwargs)
            return
        label = selectors.label_of_owner(kwargs["pk"])
        if label is None:
            raise Http404
        self.reach(request, label)

    def get(self, request: HttpRequest, pk: int) -> HttpResponseBase:
        return self.shown(request)

    def shown(self, request: HttpRequest, problem: str = "", status: int = 200) -> HttpResponse:
        context = {
            "document": self.document,
            "owner": self.document.belongs_to,
            "may_change": documents.may_keep(request.user, self.document.belongs_to_label),
            "problem": problem,
        }
        return render(request, "document.html", context, status=status)


class DocumentFile(DocumentPage):
    """The file itself."""

    undated_because = _("The file of a document never changes; ask for it without a day.")

    @property
    def dated(self) -> bool:
        return False

    http_method_names = ("get", "head", "options")

    def get(self, request: HttpRequest, pk: int) -> HttpResponseBase:
        try:
            return handed_out(self.document)
        except ChangedFileError as error:
            return self.shown(request, error.message, error.status)


class DocumentAdd(EditPage):
    needs = "places.add_document"
    act = _("attaching a document")
    model = Document
    form_class = NewDocumentForm
    noun = _("document")

    def admit(self, request: HttpRequest, **kwargs: Any) -> None:
        label = OWNERS.get(kwargs["of"])
        if label is None:
            raise Http404
        require(request.user, documents.to_keep(label), self.act)

    def subject(self, **kwargs: Any) -> Registered:
        model: Any = apps.get_model(OWNERS[kwargs["of"]])
        return documents.new_document(get_object_or_404(model, pk=kwargs["owner_pk"]))

    def save(self, form: RegisterForm, request: HttpRequest) -> models.Model:
        sent = form.cleaned_data["file"]
        document = cast(Document, form.instance)
        return documents.attach(document, sent.chunks(), sent.name, by=Author.of(request.user))

    def after(self, saved: models.Model) -> str:
        return page_of(cast(Any, cast(Document, saved).belongs_to))

    def said(self, saved: models.Model) -> str:
        document = cast(Document, saved)
        return gettext("“{document}” is attached to {owner}.").format(
            document=document, owner=document.belongs_to
        )

    def more_context(self, form: RegisterForm) -> dict[str, Any]:
        owner = cast(Document, form.instance).belongs_to
        return {"heading": gettext("Attach a document to {owner}").format(owner=owner)}

    def back(self, form: RegisterForm) -> str:
        return page_of(cast(Any, cast(Document, form.instance).belongs_to))


class DocumentChange(OwnedPage, ChangePage):
    needs = "places.change_document"
    act = _("changing what is said about a document")
    keeps = True
    model, form_class, noun = Document, DocumentForm, _("document")

    def save(self, form: RegisterForm, request: HttpRequest) -> models.Model:
        return record.change(
            form.instance, by=Author.of(request.user), expected_version=form.expected_version
        )


class DocumentRemove(OwnedPage, RemovePage):
    needs = "places.delete_document"
    act = _("removing a document")
    keeps = True
    model, noun = Document, _("document")

    def after(self, obj: Registered) -> str:
        return page_of(cast(Any, cast(Document, obj).belongs_to))


#: What documents are attached to, in words.
OWNER_KINDS = [
    ("site", _("site")),
    ("licence", _("licence")),
    ("application", _("application")),
    ("link", _("link")),
    ("commissioning-record", _("commissioning record")),
    ("interference-entry", _("interference entry")),
]


class DocumentFilter(filters.FilterSet):
    q = search_filter("title", "file_name", "entered_by_name")
    kind = filters.ChoiceFilter(label=_("kind"), choices=Document.Kind.choices, empty_label=_("all"))
    of = filters.ChoiceFilter(
        label=_("of"),
        choices=OWNER_KINDS,
        method="of_a_kind",
        empty_label=_("all"),
    )
    since = filters.DateFilter(
        label=_("dated since"),
        field_name="dated",
        lookup_expr="gte",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    class Meta:
        model = Document
        fields: list[str] = []

    def of_a_kind(self, rows: QuerySet[Document], _name: str, value: str) -> QuerySet[Document]:
        return rows.filter(selectors.of_model(OWNERS[value]))


class DocumentList(ListPage):
    needs = "places.view_document"
    act = _("reading the list of documents")
    heading = _("Documents: which papers are at hand?")
    empty = _(
        "Documents appear here as soon as one is attached to a site, a licence, an application or a link."
    )
    filterset_class = DocumentFilter
    default_sort = "-created_at"
    columns = (
        Column(_("title"), lambda d: d.title, order="title", href=page_of),
        Column(_("kind"), lambda d: d.get_kind_display(), order="kind"),
        Column(_("dated"), lambda d: d.dated, "date", "dated"),
        Column(_("belongs to"), lambda d: d.owner_words, href=lambda d: d.owner_page),
        Column(_("file"), lambda d: d.get_media_type_display(), order="media_type"),
        Column(_("size"), lambda d: fixed(d.size_bytes / 1000, 1), "figure", "size_bytes", unit="kB"),
        Column(
            _("entered"),
            lambda d: written_day(d.created_at),
            "date",
            "created_at",
            plain=lambda d: d.created_at.date(),
        ),
        Column(_("by"), lambda d: d.entered_by_name, order="entered_by_name"),
    )

    def rows(self) -> QuerySet[Document]:
        seen = [label for label in OWNERS.values() if documents.may_see(self.request.user, label)]
        return selectors.all_documents().filter(selectors.of_model(*seen))

    def prepared(self, rows: list[Document]) -> list[Document]:
        return with_owners(rows)


def with_owners(rows: Iterable[Document]) -> list[Document]:
    """Documents, each with ``owner_words`` and ``owner_page``: one query for each kind of owner."""
    listed = list(rows)
    owners = selectors.owners_of(listed)
    for row in listed:
        owner = owners.get((row.belongs_to_type_id, row.belongs_to_id))
        row.owner_words = str(owner) if owner else gettext("what is gone")  # type: ignore[attr-defined]
        row.owner_page = page_of(owner)  # type: ignore[attr-defined]
    return listed
