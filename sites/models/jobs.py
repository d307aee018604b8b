"""Jobs: rows with a lease, so that work survives a dead worker and never runs twice at once."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _


class Job(models.Model):
    """One piece of work to be done outside the request.

    The broker carries only the id. A worker claims the row by a conditional
    update that sets a lease; a sweeper offers rows whose lease ran out again.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        RUNNING = "running", _("running")
        DONE = "done", _("done")
        FAILED = "failed", _("failed")
        CANCELLED = "cancelled", _("cancelled")

    id = models.UUIDField(_("id"), primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(_("kind"), max_length=40)
    payload = models.JSONField(_("payload"), default=dict)
    state = models.CharField(_("state"), max_length=10, choices=State.choices, default=State.WAITING)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        related_name="+",
        verbose_name=_("asked by"),
    )
    asked_at = models.DateTimeField(_("asked at"), auto_now_add=True)
    started_at = models.DateTimeField(_("started at"), null=True)
    ended_at = models.DateTimeField(_("ended at"), null=True)
    lease_until = models.DateTimeField(_("lease until"), null=True)
    claimed_by = models.CharField(_("claimed by"), max_length=80, blank=True)
    attempts = models.PositiveIntegerField(_("attempts"), default=0)
    cancel_asked = models.BooleanField(_("cancel asked"), default=False)
    steps_done = models.PositiveIntegerField(_("steps done"), default=0)
    steps_total = models.PositiveIntegerField(_("steps total"), default=0)
    result = models.JSONField(_("result"), default=dict)
    error = models.TextField(_("error"), blank=True)
    words = models.JSONField(
        _("words"),
        default=dict,
        blank=True,
        help_text=_(
            "patterns and values of the sentences in result and error, by which they are worded anew"
        ),
    )
    # Two requests for the same pending work share one row while it waits.
    same_as = models.CharField(_("same as"), max_length=80, blank=True)

    class Meta:
        verbose_name = _("job")
        verbose_name_plural = _("jobs")
        ordering = ["-asked_at"]
        indexes = [models.Index(fields=["state", "lease_until"], name="job_state_lease")]
        constraints = [
            models.UniqueConstraint(
                fields=["same_as"], condition=Q(state="waiting") & ~Q(same_as=""), name="job_waits_once"
            ),
        ]
        default_permissions = ("view",)

    def __str__(self) -> str:
        return f"{self.kind} ({self.get_state_display()})"
