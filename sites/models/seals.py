"""The chain over the change record: one seal for each entry, in the order in which they were sealed."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError


class ChangeSeal(models.Model):
    """The place of one entry in the chain. A trigger refuses update and delete (see sites.guards).

    ``entry_id`` is no foreign key: a seal outlives the entry that somebody took out, and so shows the gap.
    """

    position = models.BigIntegerField(_("position"), primary_key=True)
    entry_id = models.BigIntegerField(_("entry id"), unique=True)
    entry_digest = models.CharField(_("entry digest"), max_length=64)
    digest = models.CharField(_("digest"), max_length=64)
    sealed_at = models.DateTimeField(_("sealed at"), auto_now_add=True)

    class Meta:
        verbose_name = _("change seal")
        verbose_name_plural = _("change seals")
        ordering = ["position"]
        default_permissions = ()

    def __str__(self) -> str:
        return f"{self.position}: {self.digest}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        raise RegisterError(gettext("A seal of the change record is made by sites.services.sealing alone."))

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise RegisterError(gettext("A seal of the change record cannot be deleted."))
