"""The API of places, people, changes and jobs, and the base of the other apps' APIs."""

from .views import AntennaTypeViewSet, ChangeRecordViewSet, JobViewSet, PersonViewSet, SiteViewSet

ROUTES = (
    ("sites", SiteViewSet, "site"),
    ("antenna-types", AntennaTypeViewSet, "antenna-type"),
    ("people", PersonViewSet, "person"),
    ("change-records", ChangeRecordViewSet, "change-record"),
    ("jobs", JobViewSet, "job"),
)
