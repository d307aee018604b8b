"""Everything that an inspector asks at a mast: one record of text, printed by the page and by the PDF."""

from .pack import Pack, site_pack

__all__ = ["Pack", "site_pack"]
