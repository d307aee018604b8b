"""Pages of licences: standing as of a day, channels with power in watts, policies."""

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from licences import selectors
from licences.models import Authority, Licence, LicensedChannel, RenewalPolicy
from licences.standing import Ending, Standing
from sites.services import record
from tests.made import DAY, TESTS, Register, person, site

pytestmark = pytest.mark.django_db
ON = dt.date(2026, 6, 1)


def text(answer: Any) -> str:
    return str(answer.content.decode())


@pytest.fixture
def client() -> Client:
    models = ("licence", "licensedchannel", "renewalpolicy", "authority", "holder")
    needs = [f"licences.{act}_{model}" for act in ("view", "add", "change", "delete") for model in models]
    signed_in = Client()
    signed_in.force_login(person("reg", *needs, "places.view_site"))
    return signed_in


def test_the_list_begins_with_what_expires_first_and_ends_with_what_never_does(client: Client) -> None:
    register = Register()
    for number, expires_on in (("ALWAYS", None), ("LATE", ON + 900 * DAY), ("SOON", ON + 9 * DAY)):
        register.licence(number, granted_on=ON - DAY, in_force_from=ON - DAY, expires_on=expires_on)

    def shown(**query: str) -> list[str]:
        body = client.get(reverse("licence-list"), query).context["body"]
        return [licence.number for licence, _cells in body]

    assert shown() == ["SOON", "LATE", "ALWAYS"]
    assert shown(sort="-expires_on") == ["LATE", "SOON", "ALWAYS"]
    for party in (register.authority, register.own):
        page = text(client.get(reverse(type(party)._meta.model_name, args=[party.pk])))
        places = [page.index(f"{number}</a>") for number in ("SOON", "LATE", "ALWAYS")]
        assert places == sorted(places)


def test_the_condition_on_many_licences_agrees_with_the_standing_of_one() -> None:
    """Every combination of dates around a day, under an authority with a policy and one without."""
    register = Register()
    record.change(_policy(register.authority, window_opens_days=100, last_filing_days=30), by=TESTS)
    without = record.create(Authority(code="NOP", name="No policy"), by=TESTS)
    lets = record.create(Authority(code="LET", name="Lets them continue"), by=TESTS)
    allows = RenewalPolicy(authority=lets, last_filing_days=30, continues_while_undecided=True)
    record.create(allows, by=TESTS)
    offsets = (None, -1, 0, 1, 29, 30, 31, 100, 101, 180, 181)
    number = itertools.count()
    for authority, starts, expires, filed, ended in itertools.product(
        (register.authority, without), (-400, 0, 1), offsets, (None, -1, 0, 1), (None, 0, 1)
    ):
        if expires is not None and expires < starts:
            continue
        register.licence(
            f"N-{next(number)}",
            authority=authority,
            granted_on=ON - 500 * DAY,
            in_force_from=ON + starts * DAY,
            expires_on=None if expires is None else ON + expires * DAY,
            renewal_filed_on=None if filed is None else ON + filed * DAY,
            ended_on=None if ended is None else ON + ended * DAY,
        )
    for authority, how, ended in itertools.product((register.authority, without), ("", *Ending), (0, 1)):
        register.licence(
            f"E-{next(number)}", authority=authority, ended_on=ON + ended * DAY, ended_how=str(how),
            granted_on=ON - 500 * DAY, in_force_from=ON - 400 * DAY,
        )  # fmt: skip
        register.licence(
            f"A-{next(number)}", authority=authority, applied_on=ON - DAY, granted_on=None, in_force_from=None,
            expires_on=None, ended_on=ON + ended * DAY if how else None, ended_how=str(how),
        )  # fmt: skip
        register.licence(
            f"R-{next(number)}", authority=authority, renewal="not_renewable", granted_on=ON - 500 * DAY,
            in_force_from=ON - 400 * DAY, expires_on=ON + ended * DAY,
        )  # fmt: skip
    for authority, own, renewal, filed, ended in itertools.product(
        (lets, without), ("", "continues", "ends"), ("", "not_renewable"), (None, -32, -31, -30, -1, 0),
        (None, 0, 1),
    ):  # fmt: skip
        for expires in (-1, 0):
            register.licence(
                f"C-{next(number)}", authority=authority, while_undecided=own, renewal=renewal,
                granted_on=ON - 500 * DAY, in_force_from=ON - 400 * DAY, expires_on=ON + expires * DAY,
                renewal_filed_on=None if filed is None else ON + filed * DAY,
                ended_on=None if ended is None else ON + ended * DAY,
            )  # fmt: skip
    rows = list(selectors.all_licences().select_related("authority__renewal_policy"))
    assert len(rows) > 500
    valid = {row.pk for row in rows if selectors.standing_on(row, ON).allows_transmission}
    assert set(selectors.in_force_on(Licence.objects.all(), ON).values_list("pk", flat=True)) == valid
    seen = 0
    for wanted in Standing:
        by_condition = set(
            Licence.objects.filter(selectors.has_standing(wanted, ON)).values_list("pk", flat=True)
        )
        one_by_one = {row.pk for row in rows if selectors.standing_on(row, ON) is wanted}
        assert by_condition == one_by_one, wanted
        assert one_by_one, wanted
        seen += len(one_by_one)
    assert seen == len(rows)


def _policy(authority: Authority, **changes: int) -> RenewalPolicy:
    policy = RenewalPolicy.objects.get(authority=authority)
    for name, value in changes.items():
        setattr(policy, name, value)
    return policy


def test_the_list_stands_on_the_day_in_its_address(client: Client) -> None:
    register = Register()
    register.licence("OLD", expires_on=dt.date(2027, 1, 1))
    register.licence("OPEN", expires_on=None)

    expired = text(client.get(reverse("licence-list"), {"standing": "expired", "on": "2027-01-02"}))
    before = text(client.get(reverse("licence-list"), {"standing": "expired", "on": "2027-01-01"}))

    assert "AUT OLD" in expired
    assert "AUT OPEN" not in expired
    assert "standing on 2027-01-02" in expired
    assert "AUT OLD" not in before


def test_a_channel_is_entered_with_its_power_in_watts(client: Client) -> None:
    register = Register()
    licence, place = register.licence("L-1"), site("K-01")
    typed = {
        "label": "1",
        "site": "k-01",
        "tolerance_m": "100",
        "frequency_mhz": "410.0125",
        "channel_width_khz": "12,5",
        "emission_designators": "11K0F1D 8K50F2D",
        "power_limit_dbm": "10 W",
        "power_kind": "erp",
    }

    answer = client.post(reverse("licensed-channel-add", args=[licence.pk]), typed, follow=True)

    channel = LicensedChannel.objects.get()
    assert "410.01250 MHz" in text(answer)
    assert (channel.site, channel.frequency_hz, channel.channel_width_hz) == (place, 410_012_500, 12_500)
    assert (channel.power_limit_dbm, channel.emission_designators) == (40.0, ["11K0F1D", "8K50F2D"])


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"site": "K-02"}, "“K-02” names no site in the register. Near to it: K-01."),
        ({"site": "", "area": ""}, "either at a site or inside an area"),
        ({"area": "{"}, "This is not GeoJSON"),
        ({"frequency_mhz": "-1"}, "The frequency must be positive."),
        ({"emission_designators": "FM"}, "FM"),
        ({"power_limit_dbm": "lots"}, "“lots” was typed; a power in dBm or W was expected"),
        ({"expires_on": "2999-01-01"}, "after its licence"),
        ({"paired_with": "AUT L-1/9"}, "names no licensed channel"),
    ],
)
def test_a_channel_that_cannot_be_keeps_what_was_typed(
    client: Client, changes: dict[str, str], said: str
) -> None:
    register = Register()
    licence = register.licence("L-1")
    site("K-01")
    typed = {
        "label": "1",
        "site": "K-01",
        "frequency_mhz": "410.0125",
        "channel_width_khz": "12.5",
        "power_kind": "erp",
        **changes,
    }

    answer = client.post(reverse("licensed-channel-add", args=[licence.pk]), typed)

    assert answer.status_code == 422
    assert said in text(answer)
    assert f'value="{typed["frequency_mhz"]}"' in text(answer)
    assert not LicensedChannel.objects.exists()


def test_a_channel_is_named_by_authority_number_and_label(client: Client) -> None:
    """Numbers and labels may hold slashes and blanks themselves."""
    from licences.forms.papers import channel_code, find_channel

    register = Register()
    channel = register.channel(register.licence("20 26/4 b"), label="a/go", site=site("K-01"))

    assert channel_code(channel) == "AUT 20 26/4 b/a/go"
    assert find_channel("aut 20 26/4 b/a/go") == channel
    assert find_channel("AUT 20 26/4 b") is None
    assert find_channel("") is None


def test_a_licence_page_says_its_standing_and_who_uses_its_channels(client: Client) -> None:
    register = Register()
    licence = register.licence("L-1", expires_on=dt.date.today() - DAY)  # noqa: DTZ011
    register.channel(licence, site=site("K-01"))

    shown = text(client.get(reverse("licence", args=[licence.pk])))

    assert "Today it is expired" in shown
    assert "nobody" in shown
    assert "<svg" in shown


def test_a_policy_with_its_days_the_wrong_way_round_is_refused(client: Client) -> None:
    register = Register()
    policy = RenewalPolicy.objects.get(authority=register.authority)
    typed = {
        "window_opens_days": "10",
        "last_filing_days": "30",
        "reminder_steps_days": "90, 30",
        "unused_after_days": "365",
        "version": policy.version,
    }

    answer = client.post(reverse("renewal-policy-change", args=[policy.pk]), typed)

    assert answer.status_code == 422
    assert "The window must open on or before the last filing day." in text(answer)
    assert 'value="90, 30"' in text(answer)
