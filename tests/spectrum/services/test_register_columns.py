"""The register read column by column is the register read object by object."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sites.models import AntennaType
from sites.services import record
from spectrum.conflicts.columns import Columns
from spectrum.conflicts.gather import whole_network
from spectrum.conflicts.network import Network
from spectrum.conflicts.snapshot import load, save
from spectrum.conflicts.snapshot.files import LAYOUT
from spectrum.demo.build import build
from spectrum.models import Link
from spectrum.services import register_columns
from spectrum.services.links import save_link
from spectrum.services.register_reading import read_register
from tests.made import TESTS, TODAY, Register, site

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> Path:
    settings.VAR_DIR = tmp_path
    return tmp_path


def assert_same(columns: Network, records: Network) -> None:
    """The same stations in the same order, to the last bit, whichever way equipment is numbered."""
    assert len(columns) == len(records) > 0
    for field in fields(Columns):
        if field.name not in ("antenna", "mode"):
            one, other = getattr(columns.columns, field.name), getattr(records.columns, field.name)
            np.testing.assert_array_equal(one, other, err_msg=field.name)
    np.testing.assert_array_equal(columns.authority, records.authority)
    np.testing.assert_array_equal(columns.environment, records.environment)
    for one, other in zip(columns.stations, records.stations, strict=True):
        assert one == replace(other, channel=None)


def test_it_is_the_register_of_the_demo() -> None:
    build(TODAY)
    register = register_columns.register_at(register_columns.revision_now().name)
    assert register is not None
    assert_same(register.network(TODAY), whole_network(TODAY))


def test_an_omnidirectional_antenna_stands_upright_and_a_directional_one_looks_at_the_other_end() -> None:
    small = Register()
    dish = record.create(
        AntennaType(
            name="Dish",
            gain_dbi=20,
            frequency_min_mhz=380,
            frequency_max_mhz=480,
            pattern="f699",
            diameter_m=3,
        ),
        by=TESTS,
    )
    steep = small.link("L-1", site("S1"), site("S2", 47.002, ground_height_m=1000.0))
    low, high = steep.stations.order_by("label")
    low.antenna_type = dish
    save_link(steep, [low, high], by=TESTS, clashes_are_findings=True)
    records = whole_network(TODAY)
    tilts = {s.label: s.tilt_deg for s in records.stations}
    assert tilts["A"] > 45.0
    assert tilts["B"] == 0.0
    assert_same(read_register(0).network(TODAY), records)


def test_an_edit_is_a_new_revision_and_its_links_laid_over_the_old_one_give_it() -> None:
    small = Register()
    links = [small.link(f"L-{n}", site(f"S{n}A"), site(f"S{n}B", 47.2 + n / 10)) for n in range(4)]
    before = register_columns.revision_now()
    old = register_columns.register_at(before.name)
    assert old is not None
    moved, gone = links[1], links[2]
    stations = list(moved.stations.all())
    stations[0].tx_power_dbm = 30.0
    save_link(moved, stations, by=TESTS, clashes_are_findings=True)
    gone.status = Link.Status.RETIRED
    save_link(gone, list(gone.stations.all()), by=TESTS)
    new_link = small.link("L-9", site("S9A"), site("S9B", 48.0), holder=small.other)
    now = register_columns.revision_now()
    assert now != before
    touched = [moved.pk, gone.pk, new_link.pk]
    laid_over = old.with_changes(touched, read_register(now.number, touched))
    assert_same(laid_over.network(TODAY), whole_network(TODAY))
    assert laid_over.revision == now.number


def test_a_revision_that_is_past_and_not_kept_is_not_invented() -> None:
    small = Register()
    past = register_columns.revision_now()
    small.link("L-1", site("S1"), site("S2", 47.2))
    assert register_columns.register_at(past.name) is None


def test_only_the_latest_revisions_are_kept(files: Path) -> None:
    small = Register()
    for n in range(4):
        small.link(f"L-{n}", site(f"S{n}A"), site(f"S{n}B", 47.2))
        assert register_columns.register_at(register_columns.revision_now().name) is not None
    (database,) = (files / "registers").iterdir()
    assert len(list(database.iterdir())) == register_columns.KEPT_REVISIONS


def test_a_folder_of_another_layout_is_not_read(tmp_path: Path) -> None:
    small = Register()
    small.link("L-1", site("S1"), site("S2", 47.2))
    register = read_register(register_columns.revision_now().number)
    folder = save(register, tmp_path / "kept")
    assert load(folder) is not None
    about = folder / "about.json"
    about.write_text(about.read_text().replace(f'"layout": {LAYOUT}', '"layout": 0'))
    assert load(folder) is None
    assert load(tmp_path / "nothing") is None
