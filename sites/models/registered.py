"""The base of everything in the register: written only through the service that records it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, NoReturn

from django.db import models
from django.utils.translation import gettext_lazy as _

from sites.errors import DirectWriteError

_service_is_writing: ContextVar[bool] = ContextVar("service_is_writing", default=False)


@contextmanager
def service_write() -> Iterator[None]:
    """Open the register for writing; only sites.services.record does this."""
    token = _service_is_writing.set(True)
    try:
        yield
    finally:
        _service_is_writing.reset(token)


def _refuse(what: str) -> NoReturn:
    raise DirectWriteError(
        f"{what} was called on the register directly. Write through sites.services.record, "
        "which validates, saves and records the change in one transaction."
    )


class RegisterQuerySet(models.QuerySet[Any]):
    """Reads like any query set; refuses writes that the change record would not see."""

    def update(self, **kwargs: Any) -> int:
        if not _service_is_writing.get():
            _refuse("update()")
        return super().update(**kwargs)

    def delete(self) -> tuple[int, dict[str, int]]:
        if not _service_is_writing.get():
            _refuse("delete()")
        return super().delete()

    def bulk_create(self, *args: Any, **kwargs: Any) -> list[Any]:
        if not _service_is_writing.get():
            _refuse("bulk_create()")
        return super().bulk_create(*args, **kwargs)

    def bulk_update(self, *args: Any, **kwargs: Any) -> int:
        if not _service_is_writing.get():
            _refuse("bulk_update()")
        return super().bulk_update(*args, **kwargs)


RegisterManager = models.Manager.from_queryset(RegisterQuerySet)


class Registered(models.Model):
    """An object of the register, with the version that guards against two people saving at once."""

    version = models.PositiveIntegerField(_("version"), default=1, editable=False)
    created_at = models.DateTimeField(_("created at"), auto_now_add=True, editable=False)
    changed_at = models.DateTimeField(_("changed at"), auto_now=True, editable=False)

    objects = RegisterManager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not _service_is_writing.get():
            _refuse(f"{type(self).__name__}.save()")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        if not _service_is_writing.get():
            _refuse(f"{type(self).__name__}.delete()")
        return super().delete(*args, **kwargs)
