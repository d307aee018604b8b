"""Addresses of OGC API – Features, as the standard has them: without a slash at the end."""

from django.urls import path, re_path

from . import views

urlpatterns = [
    path("", views.Landing.as_view(), name="landing"),
    path("api", views.Api.as_view(), name="api"),
    path("conformance", views.Conformance.as_view(), name="conformance"),
    path("collections", views.Collections.as_view(), name="collections"),
    path("collections/<slug:name>", views.OneCollection.as_view(), name="collection"),
    path("collections/<slug:name>/items", views.Items.as_view(), name="items"),
    path("collections/<slug:name>/items/<int:pk>", views.Item.as_view(), name="item"),
    re_path(r"^.*$", views.Unknown.as_view(), name="unknown"),
]
