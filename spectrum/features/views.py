"""The addresses of OGC API – Features: read the parameters, ask the collections, answer in JSON."""

from __future__ import annotations

import datetime as dt
from contextlib import ExitStack
from typing import Any, Final
from urllib.parse import parse_qs, urlencode

from django.contrib.auth import authenticate
from django.http import Http404, HttpRequest, HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from rest_framework.authentication import BasicAuthentication, SessionAuthentication, TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from sites.api.days import NotThereOnThatDayError
from sites.errors import RegisterError
from sites.on_day import PARAMETER as AS_OF
from sites.on_day import register_on, why_not_there
from sites.tables import geojson
from sites.tables.cells import iso
from sites.views.access import require

from .collections import COLLECTIONS, CRS84, Collection
from .description import CONFORMANCE, MEDIA_TYPE, description
from .parameters import EVERYWHERE, Asked, asked, day_asked, known_only

JSON: Final = "application/json"


class PasswordAuthentication(BasicAuthentication):
    """User name and password with each request (RFC 7617), as desktop maps send them.

    Failed attempts count as they do on the sign-in page, and lock out as they do there.
    """

    www_authenticate_realm = "Link register"

    def authenticate_credentials(self, userid: str, password: str, request: Any = None) -> tuple[Any, None]:
        plain: HttpRequest | None = getattr(request, "_request", request)
        person = authenticate(request=plain, username=userid, password=password)
        if person is None:
            raise AuthenticationFailed(
                "The user name or the password is wrong, or the person no longer has access."
            )
        return person, None


class FeatureView(APIView):
    """What all these addresses share: who may read, one representation, no parameters but f and as_of.

    Each answers for the register as it stands or as of a day; the links in an answer lead on to the same day.
    """

    authentication_classes = (PasswordAuthentication, TokenAuthentication, SessionAuthentication)
    permission_classes = (IsAuthenticated,)
    metadata_class = None
    schema = None
    reads_parameters = False
    reads_register = True
    day: dt.date | None = None

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        with ExitStack() as self._open:
            return super().dispatch(request, *args, **kwargs)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """After the person is known and allowed: open the register of the day."""
        super().initial(request, *args, **kwargs)
        if not self.reads_parameters:
            known_only(request.query_params, EVERYWHERE)
        self.day = day_asked(request.query_params)
        if self.day is not None and self.reads_register:
            self._open.enter_context(register_on(self.day))

    def perform_content_negotiation(self, request: Request, force: bool = False) -> Any:
        """There is one representation; it is sent whatever was asked for (RFC 9110 § 12.4.1)."""
        return super().perform_content_negotiation(request, force=True)

    def address(self, path: str) -> str:
        return self.request.build_absolute_uri(path)

    def link(
        self, rel: str, name: str, media_type: str, title: str, *args: str, query: str = ""
    ) -> dict[str, str]:
        """A link (RFC 8288) to one of these addresses."""
        if self.day is not None and AS_OF not in parse_qs(query):
            query = "&".join(filter(None, [query, urlencode({AS_OF: self.day})]))
        href = self.address(reverse(f"ogc:{name}", args=args)) + (f"?{query}" if query else "")
        return {"rel": rel, "href": href, "type": media_type, "title": title}


class Landing(FeatureView):
    reads_register = False

    def get(self, request: Request) -> Response:
        """OGC 17-069r4 § 7.2."""
        return Response(
            {
                "title": "Link register",
                "description": f"Sites and links of one register, as of {self.day}."
                if self.day
                else "Sites, links and findings of one register, as they stand now.",
                "links": [
                    self.link("self", "landing", JSON, "This page"),
                    self.link("service-desc", "api", MEDIA_TYPE, "The description of this interface"),
                    self.link("conformance", "conformance", JSON, "What this interface conforms to"),
                    self.link("data", "collections", JSON, "What there is"),
                ],
            }
        )


class Api(FeatureView):
    reads_register = False

    def get(self, request: Request) -> Response:
        """OGC 17-069r4 § 7.3."""
        return Response(description(self.address(reverse("ogc:landing"))), content_type=MEDIA_TYPE)


class Conformance(FeatureView):
    reads_register = False

    def get(self, request: Request) -> Response:
        """OGC 17-069r4 § 7.4."""
        return Response({"conformsTo": list(CONFORMANCE)})


class Collections(FeatureView):
    def get(self, request: Request) -> Response:
        """OGC 17-069r4 § 7.13."""
        return Response(
            {
                "links": [self.link("self", "collections", JSON, "This page")],
                "collections": [
                    _described(self, each)
                    for each in COLLECTIONS.values()
                    if each.kept_by_day or self.day is None
                ],
            }
        )


class OneCollection(FeatureView):
    def get(self, request: Request, name: str) -> Response:
        """OGC 17-069r4 § 7.14."""
        return Response(_described(self, _collection(self, name)))


class Items(FeatureView):
    reads_parameters = True

    def get(self, request: Request, name: str) -> Response:
        """OGC 17-069r4 § 7.15."""
        collection = _collection(self, name)
        wanted = asked(request.query_params)
        rows = collection.selected(wanted)
        matched = rows.count()
        portion = list(rows[wanted.offset : wanted.offset + wanted.limit])
        return Response(
            {
                "type": "FeatureCollection",
                "timeStamp": iso(timezone.now().replace(microsecond=0)),
                "numberMatched": matched,
                "numberReturned": len(portion),
                "links": self._links(request, collection, wanted, matched),
                "features": [
                    collection.feature(row, self.address) for row in collection.page().prepared(portion)
                ],
            },
            content_type=geojson.MEDIA_TYPE,
        )

    def _links(
        self, request: Request, collection: Collection, wanted: Asked, matched: int
    ) -> list[dict[str, str]]:
        def part(rel: str, title: str, offset: int) -> dict[str, str]:
            kept = {key: value for key, value in request.query_params.items() if key != "offset"}
            query = urlencode({**kept, **({"offset": offset} if offset else {})})
            return self.link(rel, "items", geojson.MEDIA_TYPE, title, collection.name, query=query)

        links = [part("self", "This part", wanted.offset)]
        if wanted.offset + wanted.limit < matched:
            links.append(part("next", "The next part", wanted.offset + wanted.limit))
        if wanted.offset:
            links.append(part("prev", "The part before", max(0, wanted.offset - wanted.limit)))
        return [*links, self.link("collection", "collection", JSON, collection.title, collection.name)]


class Item(FeatureView):
    def get(self, request: Request, name: str, pk: int) -> Response:
        """OGC 17-069r4 § 7.16."""
        collection = _collection(self, name)
        if pk >= 2**63:
            raise Http404
        rows = collection.rows()
        row = rows.filter(pk=pk).first()
        if row is None:
            if self.day and (why := why_not_there(rows.model, pk, self.day)):
                raise NotThereOnThatDayError(why)
            raise Http404
        (prepared,) = collection.page().prepared([row])
        links = [
            self.link("self", "item", geojson.MEDIA_TYPE, "This feature", name, str(pk)),
            self.link("collection", "collection", JSON, collection.title, name),
        ]
        feature = {**collection.feature(prepared, self.address), "links": links}
        return Response(feature, content_type=geojson.MEDIA_TYPE)


class Unknown(FeatureView):
    """Every other address below: problem details, not a page."""

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        raise Http404


def _collection(view: FeatureView, name: str) -> Collection:
    if name not in COLLECTIONS:
        raise Http404
    collection = COLLECTIONS[name]
    require(view.request.user, collection.needs, f"reading the collection {name}")
    if view.day and not collection.kept_by_day:
        raise RegisterError(
            f"{collection.title} are not kept by day; ask for them without {AS_OF}, as they stand now.",
            field=AS_OF,
        )
    return collection


def _described(view: FeatureView, collection: Collection) -> dict[str, Any]:
    name = collection.name
    return {
        "id": name,
        "title": collection.title,
        "description": collection.description,
        "extent": collection.extent(),
        "itemType": "feature",
        "crs": [CRS84],
        "links": [
            view.link("self", "collection", JSON, "This collection", name),
            view.link("items", "items", geojson.MEDIA_TYPE, collection.title, name),
        ],
    }
