"""Every formula of the register, as its docstring tells it: what it gives, by which document, within what range.

Nothing about a formula is written a second time for the pages; they show the docstrings.
"""

from spectrum.methods.catalogue import Method, Topic, method, topics
from spectrum.methods.docstrings import Docstring, Item, read
from spectrum.methods.glossary import Asked, is_from_the_register, method_of

__all__ = [
    "Asked",
    "Docstring",
    "Item",
    "Method",
    "Topic",
    "is_from_the_register",
    "method",
    "method_of",
    "read",
    "topics",
]
