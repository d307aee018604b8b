"""All addresses of the register."""

from django.contrib import admin
from django.urls import include, path
from django.urls.resolvers import URLPattern, URLResolver

urlpatterns: list[URLPattern | URLResolver] = [
    path("admin/", admin.site.urls),
    path("api/v1/", include(("deploy.api", "api"), namespace="api")),
    path("ogc/", include(("spectrum.features.urls", "ogc"), namespace="ogc")),
    path("", include("sites.urls")),
    path("", include("licences.urls")),
    path("", include("spectrum.urls")),
]

handler500 = "deploy.problems.server_error"
