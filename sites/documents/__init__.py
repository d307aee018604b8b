"""Files that belong to objects of the register: what they hold is looked at, they are kept outside the web's reach.

A file is recognised by its content and never decoded. Its name is shown and is never part of a path. Its SHA-256
(FIPS 180-4) is recorded when it is stored and compared each time that it is handed out.
"""

from .content import ACCEPTED, FORMS, Form
from .store import ChangedFileError, Stored, opened, stored

__all__ = ["ACCEPTED", "FORMS", "ChangedFileError", "Form", "Stored", "opened", "stored"]
