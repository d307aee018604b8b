"""A compiled twin of the search, for the check of a whole register. Optional: without numba nothing is lost but time.

It never decides. It gives every pair a level that the definition (numpy, in .neighbours and .budget) does
not exceed, and drops a receiver when not even these levels, single or summed, come near a limit. What is
left goes through the definition, near-ties and all, so that findings are the same with it and without it.
"""

from __future__ import annotations

from importlib.util import find_spec
from typing import Final

AVAILABLE: Final = find_spec("numba") is not None
# For fewer receivers than this the definition is done sooner than the compiled code is loaded.
WORTH_IT_FROM_RECEIVERS: Final = 20_000

__all__ = ["AVAILABLE", "WORTH_IT_FROM_RECEIVERS"]
