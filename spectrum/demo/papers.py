"""Documents and interference log of the invented utility. The files are made here; the photo is a drawing."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from sites.models import Document, Registered, Site
from sites.services import record
from sites.services.documents import attach, new_document
from sites.services.record import Author
from spectrum.models import CommissioningRecord, InterferenceEntry, Link
from spectrum.roles import FIELD_ENGINEER, REGISTRAR

from .parties import OWN, RAIL, STONE
from .world import World

#: A link whose licence has its letter, whose end A was visited, and where that end stands.
PAPERS_OF = "U41-019"
LOG_OPEN, LOG_CLOSED = "U41-019", "U45-009"
Kind = Document.Kind


def letter(title: str, *lines: str) -> bytes:
    """One sheet that looks like a letter; the same bytes each time it is made."""
    file = io.BytesIO()
    sheet = Canvas(file, pagesize=A4, invariant=True)
    sheet.setTitle(title)
    sheet.setFont("Helvetica-Bold", 14)
    sheet.drawString(25 * mm, 255 * mm, title)
    sheet.setFont("Helvetica", 10)
    for number, line in enumerate((*lines, "", "Invented for the demo network; no authority wrote this.")):
        sheet.drawString(25 * mm, (240 - 6 * number) * mm, line)
    sheet.showPage()
    sheet.save()
    return file.getvalue()


def picture() -> bytes:
    """A mast before a grey sky, as a PNG (third edition, 5.3) of 8-bit grey."""
    height, width = 240, 180
    rows = np.repeat(np.linspace(235, 175, height)[:, None], width, axis=1).astype(np.uint8)
    rows[200:, :] = 120
    for y in range(40, 200):
        half = 4 + (y - 40) // 12
        rows[y, [90 - half, 90 + half]] = 40
        rows[y, 90 + (half if y % 24 < 12 else -half) * ((y % 12) - 6) // 6] = 60
    rows[44:52, 96:112] = 30
    raw = b"".join(b"\x00" + row.tobytes() for row in rows)

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(raw)) + chunk(b"IEND", b"")
    )


def plant_papers_and_log(world: World) -> None:
    """Attach the documents and enter the log, in the names of who would; everything else is stored by now."""
    registrar, field = Author.of(world.people[REGISTRAR]), Author.of(world.people[FIELD_ENGINEER])
    station = (
        Link.objects.get(code=PAPERS_OF)
        .stations.select_related("site", "licensed_channel__licence__authority")
        .get(label="A")
    )
    channel, site = station.licensed_channel, station.site
    if channel is None:
        raise ValueError(f"{PAPERS_OF} has no licence that a letter could be about.")
    licence = channel.licence
    granted = letter(
        f"Licence {licence.number}", f"{licence.authority.name} grants to {OWN}",
        f"channel {channel.label}, {channel.frequency_hz / 1e6:.5f} MHz, at {site.code} {site.name}.",
        f"In force from {licence.in_force_from}.",
    )  # fmt: skip
    _attach(
        licence,
        granted,
        "grant.pdf",
        registrar,
        kind=Kind.LETTER,
        title=f"Grant of {licence.number}",
        dated=licence.granted_on,
    )
    lease = letter(
        f"Lease of {site.name}",
        f"{OWN} may keep a mast and a hut on the plot.",
        "The key hangs at the control room.",
    )
    _attach(
        site,
        lease,
        "lease.pdf",
        registrar,
        kind=Kind.AGREEMENT,
        title=f"Lease of {site.name}",
        dated=world.day(-1400),
    )
    certificate = letter(
        "Inspection of the mast", f"{site.code} {site.name}: anchors, bolts and lights in order."
    )
    _attach(
        site,
        certificate,
        "inspection.pdf",
        field,
        kind=Kind.CERTIFICATE,
        title="Inspection of the mast",
        dated=world.day(-210),
    )
    found = CommissioningRecord.objects.filter(station=station).first()
    if found is not None:
        _attach(
            found,
            picture(),
            "IMG_0419.png",
            field,
            kind=Kind.PHOTO,
            title="Antenna of end A as found",
            dated=found.found_on,
        )
    _log(world, field, registrar, site)


def _log(world: World, field: Author, registrar: Author, site: Site) -> None:
    links = {link.code: link for link in Link.objects.filter(code__in=(LOG_OPEN, LOG_CLOSED))}
    at = links[LOG_OPEN].stations.get(label="A")
    seen = InterferenceEntry(
        link=links[LOG_OPEN], began_on=world.day(-18), times="working days, 6 to 8", station=at,
        frequency_hz=at.rx_frequency_hz, level_dbm=-98.5, other_party=world.holders[RAIL],
        observed="Bursts of about two seconds on the receive channel; polling fails meanwhile.",
        source="suspected: shunting radio of the railway yard",
        done="Recorded for a week, recording attached. Telephoned the railway's radio office.",
    )  # fmt: skip
    record.create(seen, by=field, reason="the demo network")
    levels = "day;hour;level_dBm\n" + "".join(
        f"{world.day(-18 + n)};07;{-98.5 + 0.3 * n:.1f}\n" for n in range(5)
    )
    _attach(
        seen,
        levels.encode(),
        "levels.csv",
        field,
        kind=Kind.MEASUREMENT,
        title="Levels of one week",
        dated=world.day(-13),
    )
    over = InterferenceEntry(
        link=links[LOG_CLOSED], began_on=world.day(-160), ended_on=world.day(-139), closed_on=world.day(-132),
        station=links[LOG_CLOSED].stations.get(label="B"), level_dbm=-104.0, other_party=world.holders[STONE],
        observed="Steady carrier 12.5 kHz above the channel, raising the noise by 6 dB.",
        source="a repeater of the quarry, off its frequency after a repair",
        done=f"Found by bearings from {site.code} and the quarry road; the quarry's workshop was told the same day.",
        outcome="The quarry's workshop set the repeater right; noise as before.",
    )  # fmt: skip
    record.create(over, by=registrar, reason="the demo network")


def _attach(owner: Registered, content: bytes, name: str, by: Author, **said: object) -> None:
    attach(new_document(owner, **said), [content], name, by=by)
