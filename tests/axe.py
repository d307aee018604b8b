"""The open rule set axe-core over a page: WCAG 2.0 to 2.2, levels A and AA."""

from __future__ import annotations

from typing import Any

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
EVERYTHING = {"runOnly": {"type": "tag", "values": TAGS}}
#: What another colour scheme can change.
OF_COLOURS = {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}
#: What another width of the screen can change.
OF_WIDTH = {
    "runOnly": {"type": "rule", "values": ["color-contrast", "target-size", "scrollable-region-focusable"]}
}


_ASK = """async (rules) => {
  const { violations } = await axe.run(document, { ...rules, resultTypes: ["violations"] });
  return violations.flatMap((rule) => rule.nodes.map((node) => `${rule.id}: ${node.target} ${node.failureSummary}`));
}"""


def offences(page: Any, rules: dict[str, Any] = EVERYTHING) -> list[str]:
    """What axe-core finds on the page that is open: rule, and the elements that break it."""
    from axe_playwright_python.base import AXE_SCRIPT

    if page.evaluate("typeof window.axe") == "undefined":
        page.evaluate(AXE_SCRIPT)
    # Only what is broken comes back: all that is in order would be megabytes a page.
    found: list[str] = page.evaluate(_ASK, rules)
    return found
