"""The check of the whole network while it is under way: a run, and the shards it is made of."""

from __future__ import annotations

import uuid

from django.db import models

from .checks import Check


class NetworkRun(models.Model):
    """One check of the whole network: what of, by which model, in which shards. It becomes a Check at its end.

    Its key is the revision of the register, the day, the model and the parameters: an unfinished run of
    the same key is carried on, with the shards that are done.
    """

    class State(models.TextChoices):
        RUNNING = "running", "running"
        DONE = "done", "done"
        FAILED = "failed", "failed"
        CANCELLED = "cancelled", "cancelled"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    revision = models.CharField(max_length=80, help_text="name of the register's revision")
    last_change = models.BigIntegerField(help_text="number of the last change in it")
    as_of = models.DateField()
    model_version = models.CharField(max_length=40)
    parameters = models.JSONField(default=dict)
    parameters_digest = models.CharField(max_length=64)
    state = models.CharField(max_length=10, choices=State.choices, default=State.RUNNING)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    error = models.TextField(blank=True)
    # SHA-256 over the sorted findings, without the keys of rows: equal results have equal digests.
    digest = models.CharField(max_length=64, blank=True)
    check_row = models.ForeignKey(Check, on_delete=models.SET_NULL, null=True, related_name="+")

    class Meta:
        ordering = ["-started_at"]
        default_permissions = ()

    def __str__(self) -> str:
        return (
            f"Check of the network as of {self.as_of}, revision {self.revision} ({self.get_state_display()})"
        )


class Shard(models.Model):
    """A part of a run. Claimed by a lease, done once.

    Receivers and sites are counted in the order of the run, links by their keys, the last one not included.
    """

    class Kind(models.TextChoices):
        RECEIVERS = "receivers", "interference at a range of receivers"
        SITES = "sites", "what stands at a range of sites"
        LINKS = "links", "a range of links, each by itself"
        REGISTER = "register", "licences and who relies on them"

    run = models.ForeignKey(NetworkRun, on_delete=models.CASCADE, related_name="shards")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=10, choices=Kind.choices)
    first = models.PositiveIntegerField(default=0)
    last = models.PositiveIntegerField(default=0)
    claimed_by = models.CharField(max_length=80, blank=True)
    lease_until = models.DateTimeField(null=True)
    attempts = models.PositiveIntegerField(default=0)
    done_at = models.DateTimeField(null=True)
    drafts = models.JSONField(default=list)

    class Meta:
        ordering = ["number"]
        default_permissions = ()
        constraints = [models.UniqueConstraint(fields=["run", "number"], name="shard_once")]

    def __str__(self) -> str:
        return f"Shard {self.number} of {self.run_id}"
