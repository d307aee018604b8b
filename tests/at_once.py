"""Acts of several people in the same moment, each with a database session of its own."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence

from django.db import connection, connections


def all_at_once(acts: Sequence[Callable[[], object]]) -> list[object]:
    """Run every act in a thread, let go at the same moment; what each returned or raised."""
    gate = threading.Barrier(len(acts))
    results: list[object] = [None] * len(acts)

    def run(number: int) -> None:
        try:
            connection.ensure_connection()
            gate.wait(timeout=60)
            results[number] = acts[number]()
        except Exception as error:
            results[number] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(n,)) for n in range(len(acts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=300)
    return results
