"""Applications: links drawn up to be filed together, filed, and what the authority decided about them.

A filed application holds the pairs of its links without an end until it is decided: they neither lapse nor can be
extended or released. A grant makes the licences and takes them into the stations; a refusal or a withdrawal lets the
links lapse, so that their pairs are free for others.
"""

from .drawing_up import FILEABLE, add_links, change, draw_up, next_number, take_out
from .filing import file
from .granting import Grant, GrantedChannel, as_asked, changed, grant
from .refusing import refuse, withdraw
from .state import OPEN, all_applications, applications_of, links_named, open_application_of

__all__ = [
    "FILEABLE",
    "OPEN",
    "Grant",
    "GrantedChannel",
    "add_links",
    "all_applications",
    "applications_of",
    "as_asked",
    "change",
    "changed",
    "draw_up",
    "file",
    "grant",
    "links_named",
    "next_number",
    "open_application_of",
    "refuse",
    "take_out",
    "withdraw",
]
