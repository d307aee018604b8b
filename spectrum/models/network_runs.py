"""The check of the whole network while it is under way: a run, and the shards it is made of."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from .checks import Check


class NetworkRun(models.Model):
    """One check of the whole network: what of, by which model, in which shards. It becomes a Check at its end.

    Its key is the revision of the register, the day, the model and the parameters: an unfinished run of
    the same key is carried on, with the shards that are done.
    """

    class State(models.TextChoices):
        RUNNING = "running", _("running")
        DONE = "done", _("done")
        FAILED = "failed", _("failed")
        CANCELLED = "cancelled", _("cancelled")

    id = models.UUIDField(_("id"), primary_key=True, default=uuid.uuid4, editable=False)
    revision = models.CharField(_("revision"), max_length=80, help_text=_("name of the register's revision"))
    last_change = models.BigIntegerField(_("last change"), help_text=_("number of the last change in it"))
    as_of = models.DateField(_("as of"))
    model_version = models.CharField(_("model version"), max_length=40)
    parameters = models.JSONField(_("parameters"), default=dict)
    parameters_digest = models.CharField(_("parameters digest"), max_length=64)
    state = models.CharField(_("state"), max_length=10, choices=State.choices, default=State.RUNNING)
    started_at = models.DateTimeField(_("started at"))
    ended_at = models.DateTimeField(_("ended at"), null=True)
    error = models.TextField(_("error"), blank=True)
    # SHA-256 over the sorted findings, without the keys of rows: equal results have equal digests.
    digest = models.CharField(_("digest"), max_length=64, blank=True)
    check_row = models.ForeignKey(
        Check, verbose_name=_("check row"), on_delete=models.SET_NULL, null=True, related_name="+"
    )

    class Meta:
        verbose_name = _("network run")
        verbose_name_plural = _("network runs")
        ordering = ["-started_at"]
        default_permissions = ()

    def __str__(self) -> str:
        return gettext("Check of the network as of {as_of}, revision {revision} ({state})").format(
            as_of=self.as_of, revision=self.revision, state=self.get_state_display()
        )


class Shard(models.Model):
    """A part of a run. Claimed by a lease, done once.

    Receivers and sites are counted in the order of the run, links by their keys, the last one not included.
    """

    class Kind(models.TextChoices):
        RECEIVERS = "receivers", _("interference at a range of receivers")
        SITES = "sites", _("what stands at a range of sites")
        LINKS = "links", _("a range of links, each by itself")
        REGISTER = "register", _("licences and who relies on them")

    run = models.ForeignKey(
        NetworkRun, verbose_name=_("run"), on_delete=models.CASCADE, related_name="shards"
    )
    number = models.PositiveIntegerField(_("number"))
    kind = models.CharField(_("kind"), max_length=10, choices=Kind.choices)
    first = models.PositiveIntegerField(_("first"), default=0)
    last = models.PositiveIntegerField(_("last"), default=0)
    claimed_by = models.CharField(_("claimed by"), max_length=80, blank=True)
    lease_until = models.DateTimeField(_("lease until"), null=True)
    attempts = models.PositiveIntegerField(_("attempts"), default=0)
    done_at = models.DateTimeField(_("done at"), null=True)
    drafts = models.JSONField(_("drafts"), default=list)

    class Meta:
        verbose_name = _("shard")
        verbose_name_plural = _("shards")
        ordering = ["number"]
        default_permissions = ()
        constraints = [models.UniqueConstraint(fields=["run", "number"], name="shard_once")]

    def __str__(self) -> str:
        return gettext("Shard {number} of {run_id}").format(number=self.number, run_id=self.run_id)
