"""The API of places, people, changes and jobs, and the base of the other apps' APIs."""

from .documents import DocumentViewSet
from .views import AntennaTypeViewSet, ChangeRecordViewSet, JobViewSet, PersonViewSet, SiteViewSet

ROUTES = (
    ("sites", SiteViewSet, "site"),
    ("antenna-types", AntennaTypeViewSet, "antenna-type"),
    ("people", PersonViewSet, "person"),
    ("change-records", ChangeRecordViewSet, "change-record"),
    ("documents", DocumentViewSet, "document"),
    ("jobs", JobViewSet, "job"),
)
