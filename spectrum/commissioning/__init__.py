"""The commissioning sheet of a link: what each end is set to, as a page and as a PDF."""

from .sheet import End, Sheet, commissioning_sheet
from .words import BENCH, CAUTIONS, RECORD, Line

__all__ = ["BENCH", "CAUTIONS", "RECORD", "End", "Line", "Sheet", "commissioning_sheet"]
