"""People who sign in."""

from django.contrib.auth.models import AbstractUser
from django.db import models


class Person(AbstractUser):
    """Somebody who uses the register. Roles are groups; people who left are deactivated, not deleted."""

    time_zone = models.CharField(
        max_length=64, default="UTC", help_text="IANA name, for example Europe/Vienna; dates in mail use it."
    )

    class Meta:
        verbose_name = "person"
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.get_full_name() or self.username
