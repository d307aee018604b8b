"""Licences in the administration: channels with them, findings on them, refusals on the form."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from licences.models import Authority, Licence, LicensedChannel, RenewalPolicy
from sites.models import ChangeRecord
from sites.services import record
from spectrum.models import Finding
from spectrum.roles import ADMINISTRATOR
from tests.admin_pages import what_it_sends, what_was_refused
from tests.made import TESTS, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db


@pytest.fixture
def pages(client: Client) -> Client:
    client.force_login(person_of_role(ADMINISTRATOR, username="ada", is_staff=True))
    return client


@pytest.fixture
def register(pages: Client) -> Register:
    return Register()


def page_of(licence: Licence) -> str:
    return reverse("admin:licences_licence_change", args=[licence.pk])


def test_a_channel_is_entered_in_mhz_and_recorded_by_itself(pages: Client, register: Register) -> None:
    licence = register.licence("4711")
    site("S-1")
    sent = what_it_sends(pages.get(page_of(licence)))
    sent |= {
        "channels-TOTAL_FORMS": "1",
        "channels-0-label": "1",
        "channels-0-site": "s-1",
        "channels-0-frequency_mhz": "457.01250",
        "channels-0-channel_width_khz": "12.5",
        "channels-0-power_limit_dbm": "10 W",
        "channels-0-power_kind": "erp",
        "channels-0-emission_designators": "11K0F1D",
    }
    answer = pages.post(page_of(licence), sent)
    assert answer.status_code == 302, what_was_refused(answer)
    channel = LicensedChannel.objects.get()
    assert (channel.frequency_hz, channel.channel_width_hz, channel.power_limit_dbm) == (
        457_012_500,
        12_500,
        40.0,
    )
    entry = ChangeRecord.objects.get(object_type="licences.licensedchannel")
    assert (entry.action, entry.object_id) == ("create", channel.pk)


def test_a_channel_that_leaves_its_licences_dates_is_refused_and_named(
    pages: Client, register: Register
) -> None:
    licence = register.licence("4711")
    channel = register.channel(licence, site=site("S-1"))
    sent = what_it_sends(pages.get(page_of(licence)))
    answer = pages.post(page_of(licence), sent | {"channels-0-expires_on": "2099-01-01"})
    assert "would expire on 2099-01-01, after its licence" in what_was_refused(answer)
    channel.refresh_from_db()
    assert channel.expires_on is None


def test_a_channel_that_somebody_else_changed_meanwhile_is_kept(pages: Client, register: Register) -> None:
    licence = register.licence("4711")
    channel = register.channel(licence, site=site("S-1"))
    sent = what_it_sends(pages.get(page_of(licence)))
    channel.power_limit_dbm = 30.0
    record.change(channel, by=TESTS)
    answer = pages.post(page_of(licence), sent)
    assert "was changed by tests" in what_was_refused(answer)
    channel.refresh_from_db()
    assert channel.power_limit_dbm == 30.0


def test_nothing_is_half_written_when_a_channel_is_refused(pages: Client, register: Register) -> None:
    licence = register.licence("4711")
    channel = register.channel(licence, site=site("S-1"))
    sent = what_it_sends(pages.get(page_of(licence)))
    channel.power_limit_dbm = 30.0
    record.change(channel, by=TESTS)
    pages.post(page_of(licence), sent | {"service": "fixed"})
    licence.refresh_from_db()
    assert licence.service == ""


def test_the_current_findings_stand_on_the_licence(pages: Client, register: Register) -> None:
    licence = register.licence("4711")
    now = timezone.now()
    for number, gone_at in enumerate((None, now)):
        Finding.objects.create(
            identity=f"i{number}", kind="renewal_due", severity="decide", rank=1, headline=f"Finding <{number}>",
            margin=-3.25, margin_unit="days", licence=licence, first_seen_at=now, last_seen_at=now, gone_at=gone_at,
        )  # fmt: skip
    text = pages.get(page_of(licence)).content.decode()
    assert "decide: Finding &lt;0&gt;</a> (margin -3.2 days)" in text
    assert "Finding &lt;1&gt;" not in text
    assert reverse("admin:spectrum_finding_change", args=[Finding.objects.get(identity="i0").pk]) in text


def test_a_licence_goes_with_its_channels_findings_and_reminders(pages: Client, register: Register) -> None:
    licence = register.licence("4711")
    channel = register.channel(licence, site=site("S-1"))
    now = timezone.now()
    Finding.objects.create(
        identity="i", kind="renewal_due", severity="decide", rank=1, headline="Finding",
        licence=licence, first_seen_at=now, last_seen_at=now,
    )  # fmt: skip
    answer = pages.post(reverse("admin:licences_licence_delete", args=[licence.pk]), {"post": "yes"})
    assert answer.status_code == 302
    assert not Licence.objects.exists()
    assert not Finding.objects.exists()
    removed = ChangeRecord.objects.filter(action="remove").values_list("object_type", "object_id")
    assert set(removed) == {("licences.licence", licence.pk), ("licences.licensedchannel", channel.pk)}


def test_an_authority_in_use_is_not_removed(pages: Client, register: Register) -> None:
    register.licence("4711")
    pages.post(reverse("admin:licences_authority_delete", args=[register.authority.pk]), {"post": "yes"})
    assert Authority.objects.filter(pk=register.authority.pk).exists()


def test_the_renewal_policy_is_entered_with_its_authority(pages: Client) -> None:
    sent = what_it_sends(pages.get(reverse("admin:licences_authority_add")))
    sent |= {
        "code": "SPA",
        "name": "Spectrum Authority",
        "renewal_policy-TOTAL_FORMS": "1",
        "renewal_policy-0-window_opens_days": "90",
        "renewal_policy-0-last_filing_days": "30",
        "renewal_policy-0-reminder_steps_days": "30, 7",
        "renewal_policy-0-unused_after_days": "365",
        "renewal_policy-0-fee_grace_days": "30",
    }
    answer = pages.post(reverse("admin:licences_authority_add"), sent)
    assert answer.status_code == 302, what_was_refused(answer)
    assert RenewalPolicy.objects.get(authority__code="SPA").reminder_steps_days == [30, 7]


def test_the_list_says_how_each_licence_stands(pages: Client, register: Register) -> None:
    today = timezone.localdate()
    day = dt.timedelta(days=1)
    register.licence("1", granted_on=today - 9 * day, in_force_from=today - 9 * day, expires_on=today - day)
    register.licence("2", granted_on=today - 9 * day, in_force_from=today + day, expires_on=today + 9 * day)
    text = pages.get(reverse("admin:licences_licence_changelist")).content.decode()
    assert ">expired<" in text
    assert ">granted, not yet in force<" in text
