"""What on a page is a text that somebody would have to translate, and whether it went through the catalogue."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from html.parser import HTMLParser

#: Attributes of an element that are read, heard or shown to somebody.
READ_ATTRIBUTES = {"alt", "aria-label", "aria-description", "data-label", "label", "placeholder", "title"}
#: Units and their prefixes, file formats, and short forms of the trade that every language writes so.
SAME_EVERYWHERE = {
    "MHz", "kHz", "Hz", "GHz", "dB", "dBm", "dBi", "dBd", "dBc", "dBµV", "W", "mW", "kW", "m", "mm", "km", "ms", "s",
    "h", "min", "kbit", "Mbit", "MB", "kB", "KB", "bytes", "hPa", "K", "N", "UTC", "CSV", "XLSX", "PDF", "GeoJSON",
    "KML", "deg", "e.r.p", "e.i.r.p", "RR", "SHA-256", "EPSG", "FDR", "OTR", "OFR", "ICNIRP", "CFR", "ITU-R", "OGC", "API", "WGS",
}  # fmt: skip
#: Formula signs and names of documents: P.452-18, 1.1310, SM.337-6, 12K5F1D.
_SIGN = re.compile(r"[A-Z]{1,3}\.\d[\d.-]*|\d[\w.,:/'-]*|[A-Z]")
_WORD = re.compile(r"[^\W_][\w.,:’'/-]*[\w]|[^\W\d_]")
#: An entry that was shortened with “…” is known by this many signs or more.
SHORTEST_CUT = 6
_FIRST_WORD = re.compile(r"\w+")
_VOID = {
    "area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr",
}  # fmt: skip
_INLINE = {"a", "abbr", "b", "br", "code", "em", "i", "kbd", "small", "span", "strong", "sub", "sup"}
_SILENT = {"script", "style", "textarea", "pre", "code"}


def words_besides(text: str) -> list[str]:
    """The words of a text that somebody would have to translate."""
    words = (word.strip(".,:") for word in _WORD.findall(text))
    parts = (part for word in words for part in re.split(r"[/,:]", word))
    return [part for part in parts if part and part not in SAME_EVERYWHERE and not _SIGN.fullmatch(part)]


def outside_brackets(text: str, depth: int = 0) -> tuple[str, int]:
    """What of a text in the language of tests (``tests.pseudo``) did not come out of the catalogue.

    ``depth`` is how many brackets are open before the text; the second value, how many are open after it.
    """
    left = []
    for sign in text:
        depth = max(depth + (sign == "⟦") - (sign == "⟧"), 0)
        left.append(" " if depth or sign == "⟧" else sign)
    return " ".join("".join(left).split()), depth


class PageTexts(HTMLParser):
    """What of a page, and of the attributes of it that are read, did not come out of the catalogue.

    ``found`` has it with the element it stands in. Left out is what says of itself that it is English
    (``lang="en"``) or the same in every language (``translate="no"``), what is code, and what was typed into a
    field. A translated text may hold words of a link or of emphasis in the middle, so brackets stay open over
    those; one that was cut off ends with its paragraph or cell.
    """

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[tuple[str, str]] = []
        self._open: list[tuple[str, bool]] = []
        self._depth = 0
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = dict(attrs)
        marked = (tag != "html" and values.get("lang") == "en") or values.get("translate") == "no"
        if not self._silent:
            self.found += [
                (f"{tag}[{name}]", left)
                for name, value in attrs
                if value and name in READ_ATTRIBUTES and (left := outside_brackets(value)[0])
            ]
        self._passed(tag)
        if tag not in _VOID:
            self._open.append((tag, self._silent or marked or tag in _SILENT))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        self._passed(tag)
        if any(name == tag for name, _ in self._open):
            while self._open.pop()[0] != tag:
                pass

    def handle_data(self, data: str) -> None:
        left, self._depth = outside_brackets(data, self._depth)
        if left and not self._silent:
            self.found.append((self._open[-1][0] if self._open else "", left))

    @property
    def _silent(self) -> bool:
        return bool(self._open) and self._open[-1][1]

    def _passed(self, tag: str) -> None:
        if tag not in _INLINE:
            self._depth = 0


class Values:
    """Texts that people entered: in a longer text they are found from their first word on, the longest first.

    >>> Values(["Ulmet 4", "Radio office of Hethby"]).taken_out("Ulmet 4: Radio office… as typed")
    ': … as typed'
    """

    def __init__(self, values: Iterable[str]) -> None:
        self._all = {" ".join(value.split()) for value in values}
        self._by_word: dict[str, list[str]] = defaultdict(list)
        for value in sorted(self._all, key=len, reverse=True):
            if first := _FIRST_WORD.search(value):
                self._by_word[first[0]].append(value[first.start() :])

    def taken_out(self, text: str) -> str:
        """The text without what people entered."""
        if text in self._all:
            return ""
        left, at = [], 0
        while found := _FIRST_WORD.search(text, at):
            end = found.start() + len(self._begun_by(found[0], text, found.start()))
            left.append(text[at : found.start()])
            if end == found.start():
                end = found.end()
                left.append(found[0])
            at = end
        return "".join([*left, text[at:]])

    def _begun_by(self, word: str, text: str, start: int) -> str:
        cut = text[start : text.find("…", start)] if "…" in text[start:] else ""
        for value in self._by_word.get(word, ()):
            after = text[start + len(value) : start + len(value) + 1]
            if text.startswith(value, start) and not (after.isalnum() and value[-1].isalnum()):
                return value
            if len(cut) >= SHORTEST_CUT and value.startswith(cut):
                return cut
        return ""
