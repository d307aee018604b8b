"""The formulas by topic, each with a lasting address."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib import import_module
from types import ModuleType
from typing import Any, Final

from spectrum.methods.docstrings import Docstring, paragraphs, read

_P = "spectrum.radio.propagation"
_A = "spectrum.radio.antennas"
_M = "spectrum.radio.masks"

# topic, what it answers, the modules that hold it
_TOPICS: Final[tuple[tuple[str, str, tuple[str, ...]], ...]] = (
    (
        "Path loss",
        "How much is lost on the way from one station to another.",
        (
            f"{_P}.p452",
            f"{_P}.p452.climate",
            f"{_P}.free_space",
            f"{_P}.knife_edge",
            f"{_P}.bullington",
            f"{_P}.smooth_earth",
            f"{_P}.delta_bullington",
            f"{_P}.gas",
        ),
    ),
    ("Clearance", "How far the ray passes over the ground.", (f"{_P}.fresnel",)),
    ("Fading", "How often the wanted signal fades, and how deep.", (f"{_P}.p530",)),
    (
        "Masks and rejection",
        "How much of an emission a receiver takes in that is tuned beside it.",
        ("spectrum.radio.rejection", f"{_M}.mask", f"{_M}.limit", f"{_M}.cfr90_210", f"{_M}.cfr101_111"),
    ),
    (
        "Antennas",
        "Gain in a direction, and what two polarisations cost.",
        (
            f"{_A}.gain",
            f"{_A}.f699",
            f"{_A}.f1245",
            f"{_A}.aperture",
            f"{_A}.f1336",
            f"{_A}.measured",
            f"{_A}.simple",
            f"{_A}.cross_polar",
            f"{_A}.pointing",
        ),
    ),
    ("Noise", "What a receiver hears without any interferer.", ("spectrum.radio.noise",)),
    (
        "Interference",
        "How strong an interferer arrives, alone and with others.",
        ("spectrum.radio.interference",),
    ),
    (
        "At a site",
        "Isolation between antennas, duplex operation, intermodulation, harmonics.",
        ("spectrum.radio.isolation", "spectrum.radio.intermodulation", "spectrum.radio.harmonics"),
    ),
    ("Capacity", "Which mode carries what the service needs.", ("spectrum.radio.capacity",)),
    ("Power", "Watts, dBm, e.r.p., e.i.r.p. and limits on them.", ("spectrum.radio.power",)),
    (
        "Exposure",
        "Reference levels for people near an antenna. Guidance: local codes and licensed practice decide.",
        ("spectrum.radio.exposure",),
    ),
    ("Channels", "Frequencies of a channel plan.", ("spectrum.radio.channel_rasters",)),
    (
        "Emissions",
        "Emission designators and the bandwidth that an emission needs.",
        ("licences.emissions", "licences.emissions.necessary_bandwidth"),
    ),
    (
        "Licence limits",
        "What a station does beside what its licence allows.",
        ("licences.limits", "licences.areas"),
    ),
    (
        "Positions and distances",
        "Where a site is, how far it is from another, and in which direction.",
        ("sites.geodesy", "sites.positions"),
    ),
)


@dataclass(frozen=True)
class Method:
    """One formula: the function that computes it, its address, and what its docstring says."""

    slug: str
    topic: str
    module: str
    name: str
    documented: Callable[..., Any]

    @cached_property
    def text(self) -> Docstring:
        """Its docstring, taken apart."""
        return read(self.documented)

    @property
    def title(self) -> str:
        """Its first line."""
        return self.text.title

    @cached_property
    def calculation(self) -> str:
        """The lines that compute it, without the docstring; empty for a set of figures."""
        if not inspect.isfunction(self.documented):
            return ""
        source = inspect.cleandoc(inspect.getsource(self.documented))
        _, _, after = source.partition('"""')
        _, _, body = after.partition('"""')
        return inspect.cleandoc(body)

    @cached_property
    def background(self) -> list[str]:
        """What the head of its module says, paragraph by paragraph, where it says more than one line."""
        said = paragraphs(inspect.getdoc(sys.modules[self.documented.__module__]) or "")
        return said if len(said) > 1 else []


@dataclass(frozen=True)
class Topic:
    """Formulas that answer one kind of question."""

    title: str
    question: str
    methods: tuple[Method, ...]


@lru_cache(maxsize=1)
def topics() -> tuple[Topic, ...]:
    """Every topic with its formulas."""
    return tuple(
        Topic(title, question, tuple(one for name in modules for one in _methods(title, name)))
        for title, question, modules in _TOPICS
    )


@lru_cache(maxsize=1)
def _by_slug() -> dict[str, Method]:
    return {one.slug: one for topic in topics() for one in topic.methods}


@lru_cache(maxsize=1)
def _by_function() -> dict[Any, Method]:
    return {one.documented: one for one in _by_slug().values()}


def method(key: str | Callable[..., Any]) -> Method | None:
    """The method with this address, or of this function; None where there is none."""
    return _by_slug().get(key) if isinstance(key, str) else _by_function().get(key)


def public(module: ModuleType) -> Iterator[tuple[str, Callable[..., Any]]]:
    """The public functions of a module, and its public sets of figures that name a source.

    What ``__all__`` lists, where the module has one; else what is defined there without a leading
    underscore.
    """
    listed = getattr(module, "__all__", None)
    for name in listed if listed is not None else vars(module):
        found = getattr(module, name)
        own = listed is not None or getattr(found, "__module__", "") == module.__name__
        if name.startswith("_") or not own:
            continue
        if inspect.isfunction(found) or (inspect.isclass(found) and read(found).section("Source")):
            yield name, found


def _methods(topic: str, module_name: str) -> Iterator[Method]:
    module = import_module(module_name)
    for name, found in public(module):
        if module_name == f"{_P}.p452" and inspect.isclass(found):
            continue  # listed with the module that defines it
        yield Method(_slug(module_name, name), topic, module_name, name, found)


def _slug(module_name: str, name: str) -> str:
    """``noise-ktb-dbm``: the module's last name and the function's, without saying a word twice."""
    room = module_name.rsplit(".", 1)[-1].replace("_", "-")
    own = name.lower().replace("_", "-")
    return own if own.startswith(room) else f"{room}-{own}"
