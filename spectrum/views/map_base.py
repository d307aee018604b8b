"""What the map's picture is drawn on: shaded relief of the loaded terrain, and the administrator's own layers."""

from __future__ import annotations

import hashlib
import json

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.selectors import shown_map_layers
from sites.shapes import shapes_of
from sites.terrain.lru import LeastRecentlyUsed
from sites.terrain.relief import relief_tile
from sites.views.access import Page
from spectrum.conflicts.gather import terrain_in_force

_tiles: LeastRecentlyUsed[tuple[str, int, int, int], bytes] = LeastRecentlyUsed(24_000_000, len)


class MapRelief(Page):
    """One tile of shaded relief."""

    needs = "spectrum.view_link"
    act = _("reading the map")

    def get(self, request: HttpRequest, zoom: int, column: int, row: int) -> HttpResponseBase:
        store = terrain_in_force()
        if store is None:
            raise Http404(gettext("No terrain is loaded."))
        key = (store.fingerprint, zoom, column, row)
        etag = f'"{hashlib.sha256(repr(key).encode()).hexdigest()[:32]}"'
        answer: HttpResponseBase | None = get_conditional_response(request, etag=etag)
        if answer is None:
            tile = _tiles.get(key)
            if tile is None:
                try:
                    tile = relief_tile(store, zoom, column, row)
                except ValueError as error:
                    raise Http404(str(error)) from error
                _tiles.put(key, tile)
            answer = HttpResponse(tile, content_type="image/png", headers={"ETag": etag})
        answer["Cache-Control"] = "private, max-age=3600"
        return answer


class MapLayers(Page):
    """The administrator's layers, in the order in which they are drawn."""

    needs = "places.view_maplayer"
    act = _("reading the map")

    def get(self, request: HttpRequest) -> HttpResponseBase:
        layers = list(shown_map_layers().values_list("pk", "version"))
        etag = f'"{hashlib.sha256(repr(layers).encode()).hexdigest()[:32]}"'
        answer: HttpResponseBase | None = get_conditional_response(request, etag=etag)
        if answer is None:
            shown = [
                {"name": layer.name, "source": layer.source, "shapes": shapes_of(layer.shapes)}
                for layer in shown_map_layers()
            ]
            answer = HttpResponse(
                json.dumps(shown, separators=(",", ":")),
                content_type="application/json",
                headers={"ETag": etag},
            )
        answer["Cache-Control"] = "private, no-cache"
        return answer
