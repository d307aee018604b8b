"""The change record: append only, in the model and by a rule of the database."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError


class ChangeRecord(models.Model):
    """Who changed what, when, from what to what. A trigger refuses update and delete (see sites.guards)."""

    class Action(models.TextChoices):
        CREATE = "create", _("entered")
        CHANGE = "change", _("changed")
        REMOVE = "remove", _("removed")

    at = models.DateTimeField(_("at"), auto_now_add=True, db_index=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+", verbose_name=_("by")
    )
    by_name = models.CharField(_("by name"), max_length=200)
    action = models.CharField(_("action"), max_length=10, choices=Action.choices)
    object_type = models.CharField(_("object type"), max_length=60)
    object_id = models.BigIntegerField(_("object id"))
    object_label = models.CharField(_("object label"), max_length=200)
    changes = models.JSONField(_("changes"), help_text=_("field → [before, after]"))
    reason = models.TextField(_("reason"), blank=True)
    act = models.UUIDField(
        _("act"), null=True, db_index=True, help_text=_("Entries of one act have the same.")
    )
    object_version = models.PositiveIntegerField(
        _("version of the object"), null=True, help_text=_("After the act; of what was removed its last one.")
    )

    class Meta:
        verbose_name = _("change record")
        verbose_name_plural = _("change records")
        ordering = ["-id"]
        indexes = [models.Index(fields=["object_type", "object_id"], name="change_of_object")]
        default_permissions = ("view",)

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.by_name} {self.get_action_display()} {self.object_label}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise RegisterError(gettext("An entry of the change record cannot be edited."))
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise RegisterError(gettext("An entry of the change record cannot be deleted."))
