"""What a page costs on the server, on SQLite and, where DATABASE_URL names a server, on PostgreSQL.

PAGES_SIZE (default 100000) is the number of links; entering them takes a minute or two.
"""

from __future__ import annotations

import os
from typing import Any

from deploy.bench.database import on_each_database


def run() -> dict[str, Any]:
    """Measure; figures by name."""
    return on_each_database("paging", int(os.environ.get("PAGES_SIZE", "100000")))
