"""Two ways to work the pages: a pointer on a phone's screen, and the keyboard alone, with its focus always in sight."""

from __future__ import annotations

import datetime as dt
from typing import Any, Protocol

#: No page of the demo has so many places to stop at; more means that the keyboard does not get there at all.
STOPS_AT_MOST = 600
OPTIONS_AT_MOST = 80

#: What is wrong with the place where the focus is: no outline to see (WCAG 2.2, 2.4.7), or nothing of it on the screen
#: or all of it under something else (2.4.11). "" if nothing is. A page that is still coming has the focus before it has
#: its style sheets, and before a person sees anything of it, so it is judged when it is there.
FOCUS_FAULT = """async () => {
  if (document.readyState !== "complete")
    await new Promise((loaded) => addEventListener("load", loaded, { once: true }));
  const at = document.activeElement;
  if (!at || at === document.body) return "";
  const style = getComputedStyle(at);
  const seen = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  const name = `${at.tagName} ${at.id || at.name || at.textContent.trim().slice(0, 40)}`;
  if (!seen) return `${name}: the focus is not to be seen`;
  const boxes = [...at.getClientRects()].filter((box) => box.width && box.height);
  const inSight = boxes.some((box) => [0.1, 0.5, 0.9].some((part) => {
    const found = document.elementFromPoint(box.left + box.width * part, box.top + box.height / 2);
    return found && (at.contains(found) || found.contains(at) || found.closest("label")?.control === at);
  }));
  return inSight ? "" : `${name}: what has the focus is out of sight`;
}"""
HAS_FOCUS = "element => element === document.activeElement"


class Hand(Protocol):
    """What a person does with a page."""

    def press(self, target: Any) -> None: ...
    def fill(self, field: Any, text: str) -> None: ...
    def choose(self, field: Any, label: str) -> None: ...
    def set_day(self, field: Any, day: dt.date) -> None: ...


class Pointer:
    """A finger or a mouse."""

    def press(self, target: Any) -> None:
        target.click()

    def fill(self, field: Any, text: str) -> None:
        field.fill(text)

    def choose(self, field: Any, label: str) -> None:
        wanted = field.locator("option", has_text=label).first
        field.select_option(value=wanted.get_attribute("value"))

    def set_day(self, field: Any, day: dt.date) -> None:
        field.fill(day.isoformat())


class Keyboard:
    """Tab, Enter, arrows and typing; nothing is ever focused or clicked for it."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.faults: list[str] = []

    def press(self, target: Any) -> None:
        self.reach(target)
        self.page.keyboard.press("Enter")

    def fill(self, field: Any, text: str) -> None:
        self.reach(field)
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(text)

    def choose(self, field: Any, label: str) -> None:
        self.reach(field)
        chosen = "field => field.selectedOptions[0].label"
        self.page.keyboard.press("Home")
        for _ in range(OPTIONS_AT_MOST):
            if label in field.evaluate(chosen):
                return
            self.page.keyboard.press("ArrowDown")
        raise AssertionError(f"The arrow keys do not reach “{label}”.")

    def set_day(self, field: Any, day: dt.date) -> None:
        self.reach(field)
        # The parts of a date as a browser in American English shows them: month, day, year.
        self.page.keyboard.type(f"{day:%m%d%Y}")

    def reach(self, target: Any) -> None:
        """Press Tab until the target has the focus."""
        target.wait_for()
        for _ in range(STOPS_AT_MOST):
            if target.evaluate(HAS_FOCUS):
                return
            self.page.keyboard.press("Tab")
            if (fault := self.page.evaluate(FOCUS_FAULT)) and fault not in self.faults:
                self.faults.append(fault)
        raise AssertionError(f"The Tab key does not reach {target} on {self.page.url}.")
