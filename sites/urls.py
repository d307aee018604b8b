"""Addresses of the pages of places, antennas, changes, jobs, and of signing in."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from sites.views import acts, changes, documents, jobs, net_changes, places
from sites.views.account import Reading, SignIn

urlpatterns = [
    path("sign-in/", SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("reading/", Reading.as_view(), name="reading"),
    path("sites/", places.SiteList.as_view(), name="site-list"),
    path("sites/add/", places.SiteAdd.as_view(), name="site-add"),
    path("sites/<int:pk>/change/", places.SiteChange.as_view(), name="site-change"),
    path("sites/<int:pk>/remove/", places.SiteRemove.as_view(), name="site-remove"),
    path("antenna-types/", places.AntennaTypeList.as_view(), name="antenna-type-list"),
    path("antenna-types/add/", places.AntennaTypeAdd.as_view(), name="antenna-type-add"),
    path("antenna-types/<int:pk>/change/", places.AntennaTypeChange.as_view(), name="antenna-type-change"),
    path("antenna-types/<int:pk>/remove/", places.AntennaTypeRemove.as_view(), name="antenna-type-remove"),
    path("documents/", documents.DocumentList.as_view(), name="document-list"),
    path("documents/<int:pk>/", documents.DocumentPage.as_view(), name="document"),
    path("documents/<int:pk>/file/", documents.DocumentFile.as_view(), name="document-file"),
    path("documents/<int:pk>/change/", documents.DocumentChange.as_view(), name="document-change"),
    path("documents/<int:pk>/remove/", documents.DocumentRemove.as_view(), name="document-remove"),
    path("documents/of/<slug:of>/<int:owner_pk>/add/", documents.DocumentAdd.as_view(), name="document-add"),
    path("changes/", changes.ChangeList.as_view(), name="change-list"),
    path("changes/net/", net_changes.NetChanges.as_view(), name="net-changes"),
    path("undo/", acts.Undo.as_view(), name="undo"),
    path("jobs/", jobs.JobList.as_view(), name="job-list"),
    path("jobs/<uuid:pk>/", jobs.JobPage.as_view(), name="job"),
    path("jobs/<uuid:pk>/cancel/", jobs.JobCancel.as_view(), name="job-cancel"),
]
