"""People who sign in."""

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.reading import DBM, ISO, POWER_UNITS, languages, time_zones, ways_of_writing


def known_time_zone(name: str) -> None:
    """Refuse what the IANA database of time zones does not have."""
    if name not in time_zones():
        raise ValidationError(
            gettext("“%(typed)s” is not a known time zone; a name such as Europe/Vienna or UTC was expected.")
            % {"typed": name}
        )


class Person(AbstractUser):
    """Somebody who uses the register. Roles are groups; people who left are deactivated, not deleted."""

    language = models.CharField(
        _("language"), max_length=16, default="en", choices=languages, help_text=_("Of pages and mails.")
    )
    formats = models.CharField(
        _("dates and decimals"),
        max_length=16,
        default=ISO,
        choices=ways_of_writing,
        help_text=_("On pages and in mails. Files always have ISO dates and the decimal point."),
    )
    power_unit = models.CharField(
        _("power of transmitters"),
        max_length=3,
        default=DBM,
        choices=POWER_UNITS,
        help_text=_("On pages and in mails. A received level is always in dBm."),
    )
    time_zone = models.CharField(
        _("time zone"),
        max_length=64,
        default="UTC",
        validators=[known_time_zone],
        help_text=_("IANA name, for example Europe/Vienna; times on pages and in mails are in it."),
    )

    class Meta:
        verbose_name = _("person")
        verbose_name_plural = _("people")

    def __str__(self) -> str:
        return self.get_full_name() or self.username
