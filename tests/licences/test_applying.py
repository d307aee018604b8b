"""What an application asks, whether it is complete, and which step leads where."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from licences.applying import (
    DEFAULT_ASKED,
    FIELDS,
    Act,
    Filled,
    State,
    StepError,
    Where,
    completeness,
    next_state,
    possible_acts,
    unknown_fields,
)
from tests.reference_tables import outside_table

KEYS = st.sampled_from(sorted(FIELDS))


@given(st.lists(st.sampled_from(list(Act)), max_size=12))
def test_any_sequence_of_acts_files_once_decides_once_and_then_rests(acts: list[Act]) -> None:
    state, passed = State.DRAFTING, [State.DRAFTING]
    for act in acts:
        if act in possible_acts(state):
            state = next_state(state, act)
            passed.append(state)
        else:
            with pytest.raises(StepError, match=r"It is .* and cannot be"):
                next_state(state, act)
    assert len(set(passed)) == len(passed)  # no state is passed twice
    assert passed[:2] in ([State.DRAFTING], [State.DRAFTING, State.FILED])  # nothing is decided unfiled
    assert len(passed) <= 3
    assert state.is_decided == (len(passed) == 3)


def test_every_state_can_be_reached_and_has_words() -> None:
    reached, front = {State.DRAFTING}, [State.DRAFTING]
    while front:
        state = front.pop()
        new = {next_state(state, act) for act in possible_acts(state)} - reached
        reached |= new
        front.extend(new)
    assert reached == set(State)
    assert len({state.words for state in State}) == len(State)


@given(st.lists(KEYS), st.dictionaries(KEYS, st.text(max_size=8)))
def test_what_is_asked_is_there_or_named_as_missing_and_nothing_else(
    asked: list[str], texts: dict[str, str]
) -> None:
    where = Where("places.site", 3, "site S3")
    lines = completeness(asked, {key: Filled(text, where) for key, text in texts.items()})
    assert [line.key for line in lines] == [key for key in FIELDS if key in set(asked)]
    for line in lines:
        assert bool(line.value) != bool(line.missing)
        assert line.value == texts.get(line.key, "").strip()
        if line.missing:
            assert FIELDS[line.key].title in line.missing
            assert ("Enter it at site S3." in line.missing) == (line.key in texts)


def test_a_key_that_is_no_field_is_refused() -> None:
    with pytest.raises(KeyError, match="soup"):
        completeness(["soup"], {})


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ("tx_frequency", "A list of the names"),
        (None, "A list of the names"),
        ([1], "A list of the names"),
        (["soup"], "'soup' is no field of the data sheet; known are purpose"),
        (["gain", "gain"], "only once"),
        ([], ""),
        (list(DEFAULT_ASKED), ""),
    ],
)
def test_a_list_of_asked_fields_is_checked(keys: object, said: str) -> None:
    assert said in unknown_fields(keys)
    assert bool(unknown_fields(keys)) == bool(said)


def test_items_of_the_radio_regulations_are_those_of_the_public_list() -> None:
    """Against the list of filing fields keyed to RR Appendix 4, whose item numbers are from memory as ours are."""
    rows = outside_table("trade/filing_fields.csv")
    items = {item for row in rows for item in re.findall(r"\b\d+[A-Z]+\b", row["itu_rr_ap4_item"])}
    ours = {field.item for field in FIELDS.values() if field.item}
    assert ours <= items
    # What the register has no figure for, and why: carrier and date of notice, power density and control, hours,
    # coordination and the nature of the service are statements for the authority's own form.
    not_kept = {"13B", "6B", "5B", "1B", "5G", "1X", "7AA", "8AB", "8BA", "10B", "2E"}
    assert items - ours <= not_kept


def test_what_is_asked_by_default_is_what_most_public_forms_ask() -> None:
    """The items that at least five of the bodies in the list ask of a station are asked where nothing was entered."""
    rows = outside_table("trade/filing_fields.csv")
    often = {
        item
        for row in rows
        if len(row["asked_by"].split(";")) >= 6
        for item in re.findall(r"\b\d+[A-Z]+\b", row["itu_rr_ap4_item"])
    }
    asked = {FIELDS[key].item for key in DEFAULT_ASKED}
    assert often - asked <= {"13B"}
