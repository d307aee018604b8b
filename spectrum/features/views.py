"""The addresses of OGC API – Features: read the parameters, ask the collections, answer in JSON."""

from __future__ import annotations

from typing import Any, Final
from urllib.parse import urlencode

from django.contrib.auth import authenticate
from django.http import Http404, HttpRequest
from django.urls import reverse
from django.utils import timezone
from rest_framework.authentication import BasicAuthentication, SessionAuthentication, TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from sites.tables import geojson
from sites.tables.cells import iso
from sites.views.access import require

from .collections import COLLECTIONS, CRS84, Collection
from .description import CONFORMANCE, MEDIA_TYPE, description
from .parameters import Asked, asked, known_only

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
    """What all these addresses share: who may read, one representation, no parameters but f."""

    authentication_classes = (PasswordAuthentication, TokenAuthentication, SessionAuthentication)
    permission_classes = (IsAuthenticated,)
    metadata_class = None
    schema = None
    reads_parameters = False

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        if not self.reads_parameters:
            known_only(request.query_params, ("f",))

    def perform_content_negotiation(self, request: Request, force: bool = False) -> Any:
        """There is one representation; it is sent whatever was asked for (RFC 9110 § 12.4.1)."""
        return super().perform_content_negotiation(request, force=True)

    def address(self, path: str) -> str:
        return self.request.build_absolute_uri(path)

    def link(
        self, rel: str, name: str, media_type: str, title: str, *args: str, query: str = ""
    ) -> dict[str, str]:
        """A link (RFC 8288) to one of these addresses."""
        href = self.address(reverse(f"ogc:{name}", args=args)) + (f"?{query}" if query else "")
        return {"rel": rel, "href": href, "type": media_type, "title": title}


class Landing(FeatureView):
    def get(self, request: Request) -> Response:
        """OGC 17-069r4 § 7.2."""
        return Response(
            {
                "title": "Link register",
                "description": "Sites, links and findings of one register, as they stand now.",
                "links": [
                    self.link("self", "landing", JSON, "This page"),
                    self.link("service-desc", "api", MEDIA_TYPE, "The description of this interface"),
                    self.link("conformance", "conformance", JSON, "What this interface conforms to"),
                    self.link("data", "collections", JSON, "What there is"),
                ],
            }
        )


class Api(FeatureView):
    def get(self, request: Request) -> Response:
        """OGC 17-069r4 § 7.3."""
        return Response(description(self.address(reverse("ogc:landing"))), content_type=MEDIA_TYPE)


class Conformance(FeatureView):
    def get(self, request: Request) -> Response:
        """OGC 17-069r4 § 7.4."""
        return Response({"conformsTo": list(CONFORMANCE)})


class Collections(FeatureView):
    def get(self, request: Request) -> Response:
        """OGC 17-069r4 § 7.13."""
        return Response(
            {
                "links": [self.link("self", "collections", JSON, "This page")],
                "collections": [_described(self, each) for each in COLLECTIONS.values()],
            }
        )


class OneCollection(FeatureView):
    def get(self, request: Request, name: str) -> Response:
        """OGC 17-069r4 § 7.14."""
        return Response(_described(self, _collection(request, name)))


class Items(FeatureView):
    reads_parameters = True

    def get(self, request: Request, name: str) -> Response:
        """OGC 17-069r4 § 7.15."""
        collection = _collection(request, name)
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
        collection = _collection(request, name)
        row = collection.rows().filter(pk=pk).first() if pk < 2**63 else None
        if row is None:
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


def _collection(request: Request, name: str) -> Collection:
    if name not in COLLECTIONS:
        raise Http404
    collection = COLLECTIONS[name]
    require(request.user, collection.needs, f"reading the collection {name}")
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
