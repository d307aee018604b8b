"""Files that wait to be imported."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _


class ImportFile(models.Model):
    """A file of tables or an extract, kept from its trial until it is applied; or what was found in an extract."""

    name = models.CharField(_("name"), max_length=200)
    table = models.CharField(
        _("table"), max_length=40, blank=True, help_text=_("Of a CSV file: the table it holds.")
    )
    content = models.BinaryField(_("content"))
    at = models.DateTimeField(_("at"), auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, verbose_name=_("by"), on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        verbose_name = _("import file")
        verbose_name_plural = _("import files")
        ordering = ["-id"]
        default_permissions = ()  # whoever may import may see it

    def __str__(self) -> str:
        return self.name
