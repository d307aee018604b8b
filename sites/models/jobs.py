"""Jobs: rows with a lease, so that work survives a dead worker and never runs twice at once."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q


class Job(models.Model):
    """One piece of work to be done outside the request.

    The broker carries only the id. A worker claims the row by a conditional
    update that sets a lease; a sweeper offers rows whose lease ran out again.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        RUNNING = "running", "running"
        DONE = "done", "done"
        FAILED = "failed", "failed"
        CANCELLED = "cancelled", "cancelled"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=40)
    payload = models.JSONField(default=dict)
    state = models.CharField(max_length=10, choices=State.choices, default=State.WAITING)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    asked_at = models.DateTimeField(auto_now_add=True)
    started_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)
    lease_until = models.DateTimeField(null=True)
    claimed_by = models.CharField(max_length=80, blank=True)
    attempts = models.PositiveIntegerField(default=0)
    cancel_asked = models.BooleanField(default=False)
    steps_done = models.PositiveIntegerField(default=0)
    steps_total = models.PositiveIntegerField(default=0)
    result = models.JSONField(default=dict)
    error = models.TextField(blank=True)
    # Two requests for the same pending work share one row while it waits.
    same_as = models.CharField(max_length=80, blank=True)

    class Meta:
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
