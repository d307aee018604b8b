"""Run every measurement in this folder: ``python -m deploy.bench`` or, for some, ``python -m deploy.bench NAME …``.

A measurement is a module with a function ``run() -> dict``: figures by name, in
the order to be shown, one level of grouping allowed. The figures go to
var/bench.json together with what they were measured on.
"""

from __future__ import annotations

import importlib
import json
import os
import pkgutil
import platform
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import django

import deploy.bench


def names() -> list[str]:
    """The measurements in this folder; what they share stands in folders of its own."""
    found = pkgutil.iter_modules(deploy.bench.__path__)
    return [one.name for one in found if not one.ispkg and one.name != "__main__"]


def lines(figures: Mapping[str, Any], indent: int = 2) -> list[str]:
    """A table of figures for the screen."""
    width = max((len(str(name)) for name in figures), default=0)
    table = []
    for name, value in figures.items():
        if isinstance(value, Mapping):
            table += [f"{' ' * indent}{name}", *lines(value, indent + 2)]
        else:
            shown = f"{value:,.4g}" if isinstance(value, float) else str(value)
            table.append(f"{' ' * indent}{name:<{width}}  {shown:>12}")
    return table


def main(chosen: Sequence[str]) -> int:
    """Measure what is named, or everything; 0 when all of it could be measured."""
    known = names()
    unknown = sorted(set(chosen) - set(known))
    if unknown:
        print(
            f"No measurement is called {', '.join(unknown)}; there are {', '.join(known)}.", file=sys.stderr
        )
        return 2
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "deploy.settings.demo")
    django.setup()
    from django.conf import settings

    machine = {"python": platform.python_version(), "system": platform.platform(), "cores": os.cpu_count()}
    report: dict[str, Any] = {"measured_on": machine}
    for name in chosen or known:
        print(f"\n{name}", flush=True)
        begun = time.perf_counter()
        report[name] = importlib.import_module(f"deploy.bench.{name}").run()
        print("\n".join(lines(report[name])))
        print(f"  (measuring took {time.perf_counter() - begun:.1f} s)", flush=True)
    target = Path(settings.VAR_DIR) / "bench.json"
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(json.dumps(report, indent=2) + "\n", encoding="utf-8")
    print(f"\nThe figures are in {target}.")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
