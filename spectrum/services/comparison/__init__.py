"""The register beside the regulator's last extract, field by field.

What an extract states of each thing is kept (``RegulatorRecord``); where that differs from the register a
``Difference`` stands, until the two agree. Three rules:

- A value that only imports have written follows the extract; the run lists it as followed.
- A value that a person entered stays as it is. The difference is open until the registrar says which of the
  two is believed, or sets it aside with a reason. The decision holds for these two values; when either
  changes, it is asked again.
- Something that the extract no longer has stays in the register. The difference ends when it has ended there
  too: a licence by a step of its life, a link when it is retired.

``values`` turns objects into plain values, ``keeping`` compares after an import and after changes of the
register, ``deciding`` carries a decision out.
"""

from .deciding import decide, distinct
from .keeping import bring_up_to_date, compare_again, keep

__all__ = ["bring_up_to_date", "compare_again", "decide", "distinct", "keep"]
