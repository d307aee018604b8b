"""The register as tables that go out and come in again: every field, rows told apart by their natural keys.

``tables`` says which there are, ``columns`` how a field stands in a cell, ``files`` how sheets are read
and written, ``drafting`` how rows become objects; ``spectrum.services.interchange`` writes them.
"""

from .tables import TABLES, Table, table_named

__all__ = ["TABLES", "Table", "table_named"]
