"""A bounded memory that forgets what was not used for longest; safe to use from several threads."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class LeastRecentlyUsed(Generic[K, V]):
    """Values by key, within a budget of bytes.

    Parameters
    ----------
    budget_bytes : what all values together may take
    size_bytes : tells the size of one value

    Examples
    --------
    >>> memory = LeastRecentlyUsed(8, len)
    >>> memory.put("a", "12345"); memory.put("b", "678")
    >>> memory.put("c", "9"); memory.get("a"), memory.get("b"), memory.get("c")
    (None, '678', '9')
    """

    def __init__(self, budget_bytes: int, size_bytes: Callable[[V], int]) -> None:
        self._budget, self._size = budget_bytes, size_bytes
        self._values: OrderedDict[K, V] = OrderedDict()
        self._used = 0
        self._lock = threading.RLock()

    def get(self, key: K) -> V | None:
        with self._lock:
            value = self._values.get(key)
            if value is not None:
                self._values.move_to_end(key)
            return value

    def put(self, key: K, value: V) -> None:
        with self._lock:
            if key in self._values:
                self._used -= self._size(self._values.pop(key))
            self._values[key] = value
            self._used += self._size(value)
            while self._used > self._budget and len(self._values) > 1:
                _, forgotten = self._values.popitem(last=False)
                self._used -= self._size(forgotten)

    def get_or_make(self, key: K, make: Callable[[], V]) -> V:
        """The value, made if need be; made once even when several threads ask at the same time."""
        with self._lock:
            value = self.get(key)
            if value is None:
                value = make()
                self.put(key, value)
            return value
