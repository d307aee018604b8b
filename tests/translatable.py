"""What in a text is a word of English, and what is the same in every language."""

from __future__ import annotations

import re

#: Attributes of an element that are read, heard or shown to somebody.
READ_ATTRIBUTES = {"alt", "aria-label", "aria-description", "data-label", "label", "placeholder", "title"}
#: Units and their prefixes, file formats, and short forms of the trade that every language writes so.
SAME_EVERYWHERE = {
    "MHz", "kHz", "Hz", "GHz", "dB", "dBm", "dBi", "dBd", "dBc", "dBµV", "W", "mW", "kW", "m", "mm", "km", "ms", "s", "h", "min",
    "kbit", "Mbit", "MB", "kB", "KB", "bytes", "hPa", "K", "N", "UTC", "CSV", "XLSX", "PDF", "GeoJSON", "KML",
    "SHA-256", "EPSG", "FDR", "OTR", "OFR", "ICNIRP", "CFR", "ITU-R", "OGC", "API", "WGS",
}  # fmt: skip
#: Formula signs and names of documents: P.452-18, 1.1310, SM.337-6, 12K5F1D.
_SIGN = re.compile(r"[A-Z]{1,3}\.\d[\d.-]*|\d[\w.,:/-]*|[A-Z]")
_WORD = re.compile(r"[^\W_][\w.,:’'/-]*[\w]|[^\W\d_]")


def words_besides(text: str) -> list[str]:
    """The words of a text that somebody would have to translate."""
    words = (word.strip(".,:") for word in _WORD.findall(text))
    parts = (part for word in words for part in re.split(r"[/,:]", word))
    return [part for part in parts if part and part not in SAME_EVERYWHERE and not _SIGN.fullmatch(part)]
