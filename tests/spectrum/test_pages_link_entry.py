"""The form of a link: what is typed, what is taken from the other end, what is refused with everything kept."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from sites.services import record
from spectrum.models import ChannelPlan, Link, Station
from tests.made import TESTS, Register, person, site
from tests.small_register import person_of_role
from tests.spectrum.link_pages import link_typed, small_links, stations, text

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    signed_in = Client()
    signed_in.force_login(person_of_role("planner"))
    return signed_in


@pytest.fixture
def register() -> Register:
    return small_links()


def test_end_b_takes_from_end_a_what_is_left_empty_with_frequencies_exchanged(
    client: Client, register: Register
) -> None:
    answer = client.post(reverse("link-add"), link_typed(register), follow=True)

    assert "L-1 is in the register." in text(answer)
    a, b = stations()["A"], stations()["B"]
    assert (a.tx_frequency_hz, a.rx_frequency_hz) == (410_012_500, 420_012_500)
    assert (b.tx_frequency_hz, b.rx_frequency_hz) == (420_012_500, 410_012_500)
    assert (b.mode, b.antenna_type, b.polarisation) == (register.mode, register.antenna, "V")
    assert a.tx_power_dbm == b.tx_power_dbm == 36.99
    assert (a.feeder_loss_db, b.feeder_loss_db, a.duplexer_loss_db) == (1.5, 1.5, 0.0)
    assert (a.antenna_height_agl_m, b.antenna_height_agl_m) == (20.0, 12.5)


@pytest.mark.parametrize(("go_at", "a_sends"), [("first", 410_025_000), ("other", 420_025_000)])
def test_a_channel_of_the_plan_fills_both_frequencies(
    client: Client, register: Register, go_at: str, a_sends: int
) -> None:
    plan = record.create(
        ChannelPlan(
            code="P", name="Plan", first_go_hz=410_000_000, spacing_hz=12_500, channel_width_hz=12_500,
            channel_count=10, duplex_spacing_hz=10_000_000,
        ),
        by=TESTS,
    )  # fmt: skip
    typed = link_typed(register, channel_plan=str(plan.pk), channel_number="3", go_at=go_at)
    typed |= {"a-tx_frequency_mhz": "", "a-rx_frequency_mhz": ""}

    client.post(reverse("link-add"), typed)
    beyond = client.post(reverse("link-add"), {**typed, "code": "L-2", "channel_number": "11"})

    assert stations()["A"].tx_frequency_hz == stations()["B"].rx_frequency_hz == a_sends
    assert {s.tx_frequency_hz for s in stations().values()} == {410_025_000, 420_025_000}
    assert "Channel 11 is not in P; it has channels 1 to 10." in text(beyond)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"code": ""}, "Give the code."),
        ({"a-site": "K-91"}, "“K-91” names no site in the register."),
        ({"b-site": ""}, "Give the site&#x27;s code."),
        ({"a-mode": ""}, "Choose the radio and its mode."),
        ({"a-antenna_type": "987654"}, "What was chosen is not in the register; choose from the list."),
        ({"a-antenna_height_agl_m": "tall"}, "“tall” was typed; a number was expected"),
        ({"b-antenna_height_agl_m": "901"}, "Antenna height must lie between 0 and 900 m"),
        ({"a-tx_frequency_mhz": "4 1 0 MHz x"}, "was typed; a figure in MHz was expected"),
        ({"a-tx_frequency_mhz": "-410"}, "The transmit frequency must be positive."),
        ({"a-tx_power_dbm": "plenty"}, "“plenty” was typed; a power in dBm or W was expected"),
        ({"a-tx_power_dbm": ""}, "A station that transmits needs its output power."),
        ({"a-tx_power_dbm": "200"}, "Power must lie between -60 and 100 dBm."),
        ({"a-licensed_channel": "AUT 7/1"}, "names no licensed channel"),
        ({"starts_on": "2027-01-02", "ends_on": "2027-01-01"}, "The last day on the air must not lie before"),
        ({"channel_number": "5"}, "A channel&#x27;s number needs its plan"),
        ({"a-azimuth_deg": "360"}, "The azimuth must lie from 0 to below 360 degrees."),
    ],
)
def test_a_link_that_cannot_be_keeps_everything_typed_and_writes_nothing(
    client: Client, register: Register, changes: dict[str, str], said: str
) -> None:
    typed = link_typed(register, notes="Typed with care.", **changes)

    answer = client.post(reverse("link-add"), typed)

    assert answer.status_code == 422
    assert said in text(answer)
    assert "Nothing was saved yet." in text(answer)
    for name in (
        "code",
        "a-site",
        "b-site",
        "a-tx_frequency_mhz",
        "a-tx_power_dbm",
        "b-antenna_height_agl_m",
    ):
        if typed[name]:
            assert f'value="{typed[name]}"' in text(answer)
    assert "Typed with care." in text(answer)
    assert not Link.objects.exists()
    assert not Station.objects.exists()


def test_what_end_a_lacks_is_asked_for_once(client: Client, register: Register) -> None:
    bare = {
        "code": "L-1",
        "holder": str(register.own.pk),
        "status": "planned",
        "a-site": "K-01",
        "b-site": "K-02",
    }

    page = text(client.post(reverse("link-add"), bare))

    assert page.count("Choose the antenna type.") == 1
    assert page.count("Choose the radio and its mode.") == 1
    assert page.count("A station needs a transmit or a receive frequency.") == 1
    assert page.count("Give the antenna height above ground.") == 2


def test_an_end_that_only_transmits_needs_power_though_the_other_has_none(
    client: Client, register: Register
) -> None:
    typed = link_typed(register, **{"a-tx_frequency_mhz": "", "a-tx_power_dbm": ""})

    refused = client.post(reverse("link-add"), typed)

    assert refused.status_code == 422
    assert "A station that transmits needs its output power." in text(refused)
    assert not Link.objects.exists()
    client.post(reverse("link-add"), typed | {"b-tx_power_dbm": "30"})
    assert (stations()["A"].tx_frequency_hz, stations()["B"].rx_frequency_hz) == (None, None)
    assert stations()["B"].tx_frequency_hz == 420_012_500


def test_a_hub_gets_any_number_of_remotes_and_one_row_more_when_asked(
    client: Client, register: Register
) -> None:
    site("K-03", 47.3)
    address = reverse("link-add") + "?kind=ptmp"
    typed = {
        name.replace("a-", "hub-", 1): value
        for name, value in link_typed(register).items()
        if name[:2] != "b-"
    }
    typed |= {"remotes": "1", "r0-label": "1", "r0-site": "K-02", "r0-antenna_height_agl_m": "8"}

    more = client.post(address, {**typed, "add_remote": "1"})
    assert 'name="remotes" value="2"' in text(more)
    assert 'value="K-02"' in text(more)
    assert "Nothing was saved yet." not in text(more)
    assert not Link.objects.exists()

    client.post(address, {**typed, "remotes": "2", "r1-site": "K-03", "r1-antenna_height_agl_m": "9"})
    made = stations()
    assert sorted(made) == ["1", "2", "hub"]
    assert {made["1"].tx_frequency_hz, made["2"].tx_frequency_hz} == {420_012_500}
    assert {station.role for station in made.values()} == {"hub", "remote"}

    link = Link.objects.get()
    typed |= {"version": str(link.version), "remotes": "2"}
    typed |= {f"r{n}-id": str(made[label].pk) for n, label in enumerate("12")}
    typed |= {"r1-label": "2", "r1-site": "K-03", "r1-antenna_height_agl_m": "9", "r0-gone": "on"}
    client.post(reverse("link-change", args=[link.pk]), typed)
    assert sorted(stations()) == ["2", "hub"]


def test_whoever_saves_a_link_second_keeps_what_was_typed(client: Client, register: Register) -> None:
    client.post(reverse("link-add"), link_typed(register))
    link = Link.objects.get()
    seen = link.version
    link.name = "Named by Bert"
    record.change(link, by=TESTS)

    typed = link_typed(register, name="Named by Anna", version=str(seen))
    answer = client.post(reverse("link-change", args=[link.pk]), typed)

    assert answer.status_code == 409
    assert "was changed by tests on" in text(answer)
    assert 'value="Named by Anna"' in text(answer)
    assert "In the register now: Named by Bert" in text(answer)
    link.refresh_from_db()
    assert link.name == "Named by Bert"


def test_a_change_of_a_station_is_saved_with_its_link(client: Client, register: Register) -> None:
    client.post(reverse("link-add"), link_typed(register))
    link = Link.objects.get()
    shown = text(client.get(reverse("link-change", args=[link.pk])))
    assert 'value="410.01250"' in shown
    assert 'value="36.99"' in shown
    assert 'value="K-01"' in shown

    typed = link_typed(
        register,
        version=str(link.version),
        **{"b-tx_power_dbm": "30 dBm", "b-mode": "", "b-antenna_type": ""},
    )
    client.post(reverse("link-change", args=[link.pk]), typed)

    assert stations()["B"].tx_power_dbm == 30.0
    assert stations()["A"].tx_power_dbm == 36.99
    assert Link.objects.get().version == link.version + 1


def test_a_field_engineer_records_on_a_link_and_plans_nothing_of_it(register: Register) -> None:
    link = register.link("L-1", *(site(code) for code in ("K-11", "K-12")), status=Link.Status.GRANTED)
    engineer = Client()
    engineer.force_login(person_of_role("field engineer"))
    typed = link_typed(register, version=str(link.version))
    change, status = (reverse(name, args=[link.pk]) for name in ("link-change", "link-status"))

    assert engineer.get(reverse("link-add")).status_code == 403
    for refused in (
        engineer.get(change),
        engineer.post(change, typed),
        engineer.post(status, {"status": "on_air", "version": str(link.version)}),
    ):
        assert refused.status_code == 403
        assert "Your role (field engineer) does not include changing a link" in text(refused)
        assert "planner" in text(refused)
    assert Link.objects.get().version == link.version
    page = engineer.get(reverse("link", args=[link.pk])).content.decode()
    sheet = engineer.get(reverse("link-commissioning", args=[link.pk])).content.decode()
    assert (change in page, status in page, change in sheet) == (False, False, False)
    attach = reverse("document-add", args=["link", link.pk])
    assert attach in page
    assert engineer.get(attach).status_code == 200
    found = reverse("commissioning-record-add", args=[link.stations.all()[0].pk])
    assert found in sheet
    assert engineer.get(found).status_code == 200
    assert engineer.get(reverse("interference-entry-add", args=[link.pk])).status_code == 200


def test_a_person_who_may_change_and_not_add_adds_and_removes_no_station(register: Register) -> None:
    link = register.link("L-1", *(site(code) for code in ("K-11", "K-12")))
    changer = Client()
    changer.force_login(
        person("carl", "spectrum.view_link", "spectrum.change_link", "spectrum.change_station")
    )
    typed = link_typed(register, version=str(link.version))
    address = reverse("link-change", args=[link.pk])

    assert changer.post(address, typed).status_code == 302
    record.remove(stations()["B"], by=TESTS)
    link.refresh_from_db()
    refused = changer.post(address, typed | {"version": str(link.version)})
    assert refused.status_code == 422
    assert "a planner adds and removes stations" in text(refused)


def test_another_partys_link_needs_a_role_that_keeps_those(register: Register) -> None:
    own_only = Client()
    own_only.force_login(person("olga", "spectrum.view_link", "spectrum.add_link"))

    answer = own_only.post(reverse("link-add"), link_typed(register, holder=str(register.other.pk)))

    assert answer.status_code == 422
    assert "Your role does not include links of other parties" in text(answer)


def test_a_pair_that_another_planned_link_holds_is_refused_and_what_was_typed_is_kept(
    client: Client, register: Register
) -> None:
    client.post(reverse("link-add"), link_typed(register))
    first = Link.objects.get()
    answer = client.post(reverse("link-add"), link_typed(register, code="L-99", notes="Typed with care."))
    assert answer.status_code == 409
    assert f"with {first.code}, which" in text(answer)
    assert "Typed with care." in text(answer)
    assert Link.objects.count() == 1
