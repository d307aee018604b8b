"""A link as it is being typed, judged against the register; nothing is written."""

from .drafting import SOMETHING, DraftStation, loose_link
from .judging import PathFigures, Preview, preview

__all__ = ["SOMETHING", "DraftStation", "PathFigures", "Preview", "loose_link", "preview"]
