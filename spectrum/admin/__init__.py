"""Administration of equipment, links and extracts; what the checks found, to be read."""

from . import equipment, extracts, found, links

__all__ = ["equipment", "extracts", "found", "links"]
