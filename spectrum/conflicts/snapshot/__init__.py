"""A register held as columns: in memory, in mapped files of one revision, with what changed since laid over it.

Never the truth: the database is. A search or a check of the whole network reads from here, and what it
was made of stands beside it as the revision of the register.
"""

from .files import load, save
from .register import LinkTable, Register, SiteTable, Tables, Words

__all__ = ["LinkTable", "Register", "SiteTable", "Tables", "Words", "load", "save"]
