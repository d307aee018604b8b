"""The pages on the formulas: nothing public without source, range and two calls; no figure without its formula."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages

import pytest

import licences.emissions
import spectrum.conflicts
import spectrum.radio
from spectrum.methods import Asked, is_from_the_register, method, method_of, read, topics
from spectrum.methods.catalogue import public
from spectrum.methods.glossary import FROM_THE_REGISTER, QUANTITIES

METHODS = [one for topic in topics() for one in topic.methods]
# Checks of arguments that the formulas share; they compute no quantity, so they have no page.
WITHOUT_A_PAGE = {"spectrum.radio.ranges", "spectrum.radio.passbands"}


def public_functions(package) -> Iterator[tuple[str, object]]:
    """Every function without a leading underscore in every module without one."""
    for found in walk_packages(package.__path__, f"{package.__name__}."):
        if any(part.startswith("_") for part in found.name.split(".")):
            continue
        module = import_module(found.name)
        for name, value in vars(module).items():
            if inspect.isfunction(value) and value.__module__ == found.name and not name.startswith("_"):
                yield f"{found.name}.{name}", value


RADIO = dict(public_functions(spectrum.radio))


@pytest.mark.parametrize("name", RADIO)
def test_every_public_function_of_the_radio_arithmetic_names_source_and_range_and_shows_two_calls(name: str):
    text = read(RADIO[name])

    assert text.title
    assert text.section("Source")
    assert text.section("Range")
    assert text.section("Examples").count(">>> ") >= 2


@pytest.mark.parametrize("one", METHODS, ids=lambda one: one.slug)
def test_every_method_with_a_page_says_what_the_page_shows(one):
    assert one.text.section("Source")
    assert one.text.section("Range")
    assert one.text.section("Examples").count(">>> ") >= 2
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", one.slug)
    assert method(one.slug) is one


def test_every_quantity_of_the_radio_arithmetic_has_a_page():
    paged = {one.documented for one in METHODS}
    # What a package keeps behind its list of public names is reached through those.
    behind = {
        name
        for name, function in RADIO.items()
        if any(
            (listed := getattr(import_module(package), "__all__", None)) is not None
            and any(inspect.isfunction(getattr(import_module(package), n)) for n in listed)
            for package in _packages_of(name)
        )
    }
    without = {
        name
        for name, function in RADIO.items()
        if function not in paged and name.rsplit(".", 1)[0] not in WITHOUT_A_PAGE and name not in behind
    }
    assert without == set()


def _packages_of(name: str) -> Iterator[str]:
    parts = name.split(".")[:-1]
    for length in range(len(parts), 2, -1):
        yield ".".join(parts[:length])


def test_addresses_are_different():
    slugs = [one.slug for one in METHODS]
    assert len(slugs) == len(set(slugs))


def test_the_calculation_on_the_page_is_the_code_without_its_docstring():
    found = method("noise-ktb-dbm")
    assert found is not None
    shown = found.calculation
    assert "np.log10" in shown
    assert '"""' not in shown
    assert "Parameters" not in shown


def test_a_class_is_listed_only_when_it_names_a_source():
    listed = dict(public(import_module("spectrum.radio.propagation.p452.climate")))
    assert set(listed) == {"Climate"}
    assert "EmissionDesignator" not in dict(public(licences.emissions))


# -- the parts of a docstring


def documented():
    """Level of a sum, 10 log Σ p.

    Plain words.

    L = 10 log p,
    over two lines.

    Parameters
    ----------
    power_w, other_w : array, W
        Powers,
        above 0.
    kind : str

    Returns
    -------
    float
        Level in dBm.

    Source
    ------
    A document.
    """


def test_a_docstring_is_taken_apart():
    text = read(documented)

    assert text.title == "Level of a sum, 10 log Σ p"
    assert text.prose() == ["Plain words."]
    assert text.formulas() == ["10 log Σ p", "L = 10 log p, over two lines."]
    assert [(one.name, one.kind, one.text) for one in text.items("Parameters")] == [
        ("power_w, other_w", "array, W", "Powers, above 0."),
        ("kind", "str", ""),
    ]
    assert [(one.name, one.text) for one in text.items("Returns")] == [("float", "Level in dBm.")]
    assert text.section("Range") == ""


def one_sentence():
    """Loss.

    Returns
    -------
    Loss in dB; 0 where the path
    is clear.
    """


def test_a_result_told_in_a_sentence_is_one_entry():
    entries = read(one_sentence).items("Returns")
    assert [one.name for one in entries] == ["Loss in dB; 0 where the path is clear."]


def test_all_lines_of_parameters_reach_the_page():
    for one in METHODS:
        for heading in ("Parameters", "Returns", "Raises"):
            shown = " ".join(f"{entry.name} {entry.kind} {entry.text}" for entry in one.text.items(heading))
            for word in re.findall(r"\w{3,}", one.text.section(heading)):
                assert word in shown, (one.slug, heading, word)


# -- from a row of evidence to its formula


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("Basic transmission loss, 20 % of time", "p452-basic-transmission-loss"),
        ("Part: diffraction, 20 % of time", "delta-bullington-loss-db"),
        ("Refractivity lapse ΔN", "climate"),
        ("Sum of all, in watts", "interference-aggregate-dbm"),
        ("12 further interferers", "interference-aggregate-dbm"),
        ("1 further interferer", "interference-aggregate-dbm"),
        ("I/C", "interference-c-over-i-db"),
        ("I/N", "interference-i-over-n-db"),
        ("Aggregate I/N", "interference-i-over-n-db"),
        ("Frequency-dependent rejection", "rejection-frequency-dependent-rejection"),
        ("Less: noise figure", "noise-floor-dbm"),
        ("Less: noise figure with man-made noise", "noise-combined-noise-figure-db"),
        ("L-001/A: off axis toward the victim", "pointing-off-axis-deg"),
        ("Path length", "geodesy-inverse"),
        ("azimuth", "geodesy-inverse"),
        ("e.i.r.p.", "power-eirp-dbm"),
    ],
)
def test_a_quantity_leads_to_its_formula(name: str, slug: str):
    found = method_of(name)
    assert found is not None
    assert found.slug == slug


@pytest.mark.parametrize(
    ("name", "source", "slug"),
    [
        ("Basic transmission loss, 1 % of time", "ITU-R P.525, free space only", "free-space-loss-db"),
        (
            "Basic transmission loss, 1 % of time",
            "ITU-R P.452-18 over the smooth earth",
            "p452-smooth-earth-loss",
        ),
        ("Antenna gain toward the victim", "Dish, ITU-R F.699", "f699-gain-dbi"),
        ("Antenna gain toward the victim", "Whip, ITU-R F.1336, omnidirectional", "f1336-omni-gain-dbi"),
        ("Antenna gain toward the interferer", "Yagi, measured table", "measured-gain-dbi"),
    ],
)
def test_the_source_of_a_row_decides_between_formulas(name: str, source: str, slug: str):
    found = method_of(Asked(name, source))
    assert found is not None
    assert found.slug == slug


def test_levels_of_single_interferers_and_limits_of_licences_are_known_by_their_place():
    level = method_of(Asked("X-100/A", "31.0 % of the sum", "power", "aggregate"))
    limit = method_of(Asked("licensed e.r.p.", "the licensed channel", "term", "licence_power"))
    assert level is not None
    assert level.slug == "interference-level-dbm"
    assert limit is not None
    assert limit.slug == "limits-compare"


@pytest.mark.parametrize(
    "name", ["Transmit frequency", "Permitted I/N", "Margin", "Transmitter output power"]
)
def test_what_is_read_or_granted_has_no_formula(name: str):
    assert method_of(name) is None
    assert is_from_the_register(Asked(name))


def test_a_name_that_nobody_entered_is_neither():
    assert method_of("Moon phase") is None
    assert not is_from_the_register(Asked("Moon phase"))


def test_every_entry_of_the_glossary_has_a_page():
    assert [name for name, formula in QUANTITIES.items() if method(formula) is None] == []
    assert set(QUANTITIES) & set(FROM_THE_REGISTER) == set()


def rows_in_the_engine() -> Iterator[tuple[str, Asked]]:
    """Every row of evidence that the engine's code makes, variables in names replaced by an example."""
    for file in sorted(Path(spectrum.conflicts.__path__[0]).rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Row"):
                continue
            values = dict(zip(("name", "value", "unit", "source", "role"), node.args, strict=False))
            values |= {one.arg: one.value for one in node.keywords if one.arg}
            name = _text(values["name"])
            if name is None:
                continue  # a variable: met by the network below
            role = values.get("role")
            yield (
                f"{file.name}:{node.lineno}",
                Asked(
                    name, _text(values["source"]) or "", role.id.lower() if isinstance(role, ast.Name) else ""
                ),
            )


def _text(node: ast.expr) -> str | None:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(_text(part) or "7" for part in node.values)
    if isinstance(node, ast.BinOp):
        return f"{_text(node.left) or ''}{_text(node.right) or ''}"
    if isinstance(node, ast.IfExp):
        return _text(node.body) or _text(node.orelse)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("_", "sentence"):
        pattern = _text(node.args[0])
        return None if pattern is None else re.sub(r"{[^}]*}", "7", pattern)
    return None


def test_every_row_of_evidence_that_the_engine_writes_leads_to_a_method_or_to_the_register():
    rows = list(rows_in_the_engine())
    assert len(rows) > 30
    nowhere = [
        (where, row.name) for where, row in rows if method_of(row) is None and not is_from_the_register(row)
    ]
    assert nowhere == []
