"""The pictures of the README, taken of the demo. To put new ones there:

make test ARGS="tests/browser/test_readme_pictures.py --pictures deploy/pictures"
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse

from deploy.bootstrap.running import ROOT
from sites.models import Person
from spectrum.demo.planted import STORY
from spectrum.models import Finding, Link

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SIZE = {"width": 1440, "height": 900}
AT_MOST_BYTES = 200_000
FOLDER = ROOT / "deploy" / "pictures"


def shown() -> dict[str, tuple[str, str]]:
    """Name of the picture, address, and what has to be drawn before it is taken."""
    link = Link.objects.get(code=STORY)
    conflict = Finding.objects.filter(link=link, kind="co_channel", gone_at=None).order_by("margin")[0]
    crowded = Finding.objects.filter(kind="intermodulation", gone_at=None).order_by("rank", "margin")[0]
    return {
        "link-page": (reverse("link", args=[link.pk]), "main svg"),
        "link-editor": (reverse("link-change", args=[link.pk]), "#preview-body svg.profile"),
        "conflict": (reverse("finding", args=[conflict.pk]), "main svg"),
        "pair-search": (reverse("link-pairs", args=[link.pk]), "table.pairs tbody tr"),
        "site-page": (reverse("site", args=[crowded.site_id]), "main svg"),
    }


def test_the_pictures_of_the_readme_are_of_pages_as_they_are(
    page: Any,
    demo: dt.date,
    sign_in: Callable[[Any], Any],
    tmp_path: Path,
    pytestconfig: pytest.Config,
) -> None:
    folder = ROOT / pytestconfig.getoption("pictures") if pytestconfig.getoption("pictures") else tmp_path
    sign_in(Person.objects.get(username="petra"))
    page.set_viewport_size(SIZE)
    for name, (address, drawn) in shown().items():
        page.goto(address)
        page.locator(drawn).first.wait_for()
        page.evaluate("() => document.fonts.ready")
        page.screenshot(path=folder / f"{name}.png")
        assert 10_000 < (folder / f"{name}.png").stat().st_size < AT_MOST_BYTES, name
    # Every picture that is kept is one of these, and the README shows every one.
    assert {path.stem for path in FOLDER.glob("*.png")} == set(shown())
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert [name for name in shown() if f"deploy/pictures/{name}.png" not in readme] == []
