"""Files that wait to be imported."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class ImportFile(models.Model):
    """A file of tables or an extract, kept from its trial until it is applied; or what was found in an extract."""

    name = models.CharField(max_length=200)
    table = models.CharField(max_length=40, blank=True, help_text="Of a CSV file: the table it holds.")
    content = models.BinaryField()
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-id"]
        default_permissions = ()  # whoever may import may see it

    def __str__(self) -> str:
        return self.name
