"""All addresses of the register."""

from django.contrib import admin
from django.urls import path
from django.urls.resolvers import URLPattern, URLResolver

urlpatterns: list[URLPattern | URLResolver] = [
    path("admin/", admin.site.urls),
]
