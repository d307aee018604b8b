"""The tables of places, people, changes and jobs."""

from .antennas import AntennaType
from .changes import ChangeRecord
from .documents import Document
from .jobs import Job
from .layers import MapLayer
from .people import Person
from .places import Site
from .registered import Registered, RegisterManager, RegisterQuerySet
from .seals import ChangeSeal

__all__ = [
    "AntennaType",
    "ChangeRecord",
    "ChangeSeal",
    "Document",
    "Job",
    "MapLayer",
    "Person",
    "RegisterManager",
    "RegisterQuerySet",
    "Registered",
    "Site",
]
