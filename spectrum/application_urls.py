"""Addresses of the pages of applications."""

from django.urls import path

from spectrum.views import application_acts, applications

urlpatterns = [
    path("applications/", applications.ApplicationList.as_view(), name="application-list"),
    path("applications/add/", applications.ApplicationAdd.as_view(), name="application-add"),
    path("applications/<int:pk>/", applications.ApplicationPage.as_view(), name="application"),
    path(
        "applications/<int:pk>/change/", applications.ApplicationChange.as_view(), name="application-change"
    ),
    path(
        "applications/<int:pk>/remove/", applications.ApplicationRemove.as_view(), name="application-remove"
    ),
    path("applications/<int:pk>/data.pdf", applications.ApplicationPdf.as_view(), name="application-pdf"),
    path("applications/<int:pk>/data.csv", applications.ApplicationCsv.as_view(), name="application-csv"),
    path("applications/<int:pk>/data.xlsx", applications.ApplicationXlsx.as_view(), name="application-xlsx"),
    path(
        "applications/<int:pk>/links/",
        application_acts.ApplicationLinkAdd.as_view(),
        name="application-link-add",
    ),
    path(
        "applications/<int:pk>/links/<int:link_pk>/take-out/",
        application_acts.ApplicationLinkTakeOut.as_view(),
        name="application-link-take-out",
    ),
    path("applications/<int:pk>/file/", application_acts.ApplicationFile.as_view(), name="application-file"),
    path(
        "applications/<int:pk>/grant/", application_acts.ApplicationGrant.as_view(), name="application-grant"
    ),
    path(
        "applications/<int:pk>/refuse/",
        application_acts.ApplicationRefuse.as_view(),
        name="application-refuse",
    ),
    path(
        "applications/<int:pk>/withdraw/",
        application_acts.ApplicationWithdraw.as_view(),
        name="application-withdraw",
    ),
]
