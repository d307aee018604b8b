"""The troubles planted in the demo, and what a check has to find: one table, which the tests hold it to.

Margins of interference rest on ITU-R P.452-18 over the smooth earth; the tests add one of them up by hand.
Everything else follows from the figures planted.
"""

from __future__ import annotations

from dataclasses import dataclass

from .planted import IDLE_LICENCE, STORY, TWICE_LICENCE

MUST_FIX, DECIDE, NOTE = "must_fix", "decide", "note"


@dataclass(frozen=True)
class Trouble:
    """One finding that must come: kind, severity, parties, and its margin (None: it has none) within a tolerance.

    ``licence_of`` names a link whose licence the finding is about, ``licence`` a licence by number.
    """

    planted: str
    kind: str
    severity: str
    link: str = ""
    station: str = ""
    other_link: str = ""
    other_station: str = ""
    licence_of: str = ""
    licence: str = ""
    margin: float | None = None
    within: float = 0.001
    unit: str = ""


_HALF = "the stopgap's B sends high from a mast that sends low"
_LOUD = "the 41 dBm raise the noise at the receiver next to it on the hill"
_RELIEF = "a planned relief route on the channel of a railway link that crosses its path"
_NEXT = "a second link on the same path, one channel beside the first"
_OFF = "the whole link entered 1 kHz too high"
_WIDTH = "set to 25 kHz, licensed for 12.5 kHz"

TROUBLES: tuple[Trouble, ...] = (
    # The story of the tour: what a planner sees on one planned link.
    *(
        Trouble(
            _RELIEF, "co_channel", MUST_FIX, sender, end, victim, other, margin=margin, within=0.5, unit="dB"
        )
        for sender, end, victim, other, margin in (
            (STORY, "A", "O-021", "B", -45.3), (STORY, "B", "O-021", "A", -48.0),
            ("O-021", "A", STORY, "B", -49.2), ("O-021", "B", STORY, "A", -46.2),
        )
    ),
    *(
        Trouble(
            _RELIEF, "carrier_to_interference", MUST_FIX, sender, end, victim, other,
            margin=margin, within=0.5, unit="dB",
        )
        for sender, end, victim, other, margin in (
            (STORY, "A", "O-021", "B", -5.5), (STORY, "B", "O-021", "A", -8.6),
            ("O-021", "A", STORY, "B", -5.7), ("O-021", "B", STORY, "A", -2.7),
        )
    ),
    Trouble(
        "its radio gives 3 dB more than the licence allows", "licence_power", MUST_FIX, STORY, "A", margin=-3.0, unit="dB"
    ),
    Trouble(
        "and that licence has to be filed for renewal in 12 days", "renewal_due", MUST_FIX, licence_of=STORY,
        margin=12.0, unit="days",
    ),
    # Other interference.
    *(
        Trouble(
            _NEXT, "adjacent_channel", MUST_FIX, sender, end, victim, other, margin=margin, within=0.5, unit="dB"
        )
        for sender, end, victim, other, margin in (
            ("U41-302", "A", "U41-012", "B", -35.4), ("U41-302", "B", "U41-012", "A", -35.2),
            ("U41-012", "A", "U41-302", "B", -35.4), ("U41-012", "B", "U41-302", "A", -35.2),
        )
    ),
    Trouble(
        "four flood beacons, each 4 to 5 dB below the limit of one", "aggregate", MUST_FIX, "U41-024", "A",
        margin=-1.4, within=0.5, unit="dB",
    ),
    Trouble(
        "a pager 210 km away that ducts carry over for a thousandth of the time, and a weak wanted signal",
        "carrier_to_interference", MUST_FIX, "O-311", "B", "U45-303", "A", margin=-20.6, within=0.5, unit="dB",
    ),
    # At a site.
    Trouble(_HALF, "band_half_clash", MUST_FIX, "U45-303", "B", "U45-038", "A"),
    # 30 − 2.4 − 17.51 − 2.4 = 7.69 dBm against −20: no duplexer helps against what lies on its receiving side;
    # 20 − 2.4 − 17.79 − 2.4 = −2.59 dBm the other way
    Trouble(_HALF, "receiver_blocking", DECIDE, "U45-038", "A", "U45-303", "B", margin=-27.69, within=0.05, unit="dB"),
    Trouble(_HALF, "receiver_blocking", DECIDE, "U45-303", "B", "U45-038", "A", margin=-17.41, within=0.05, unit="dB"),
    # 30 − 150 + 174 − 7 + 6 = 53 dB needed whatever the width, 45 dB found
    Trouble(
        "a duplexer of 45 dB where 53 are needed", "duplex_isolation", MUST_FIX, "U41-007", "A", margin=-8.0, within=0.1,
        unit="dB",
    ),
    Trouble(_LOUD, "transmitter_noise", DECIDE, "U41-005", "B", "U41-006", "B", margin=0.85, within=0.1, unit="dB"),
    Trouble(_LOUD, "transmitter_noise", DECIDE, "U41-006", "B", margin=0.47, within=0.1, unit="dB"),
    Trouble(
        "the upper channels of three links on one hill mix to the lower one of the third", "intermodulation", DECIDE,
        "U41-028", "B", margin=-8.3, within=0.5, unit="dB",
    ),
    Trouble("a siren on a third of the telecontrol's channel", "harmonic", DECIDE, "O-312", "B", "U45-001", "A"),
    # What was built.
    Trouble(
        "left 2.5 dB below the planned power", "as_built_differs", DECIDE, "U41-019", "A", "", "power",
        margin=-1.5, within=0.01, unit="dB",
    ),
    # The link itself.
    Trouble(
        "B listens on another channel than A sends", "ends_not_mirrored", MUST_FIX, "U41-204", "A", "U41-204", "B",
        margin=-3.1, unit="MHz",
    ),
    *(
        Trouble(_OFF, "off_raster", MUST_FIX, "U41-213", end, "", direction, margin=-1.0, unit="kHz")
        for end in "AB"
        for direction in ("transmits", "listens on")
    ),
    Trouble(
        "41 dBm from a radio that gives 40", "equipment_limits", MUST_FIX, "U41-005", "B", "", "output power",
        margin=-1.0, unit="dB",
    ),
    Trouble("72 MHz, below what the path loss covers", "not_computed", DECIDE, "L07-001", "A"),
    Trouble("77 MHz, below what the path loss covers", "not_computed", DECIDE, "L07-001", "B"),
    Trouble("a panel without an azimuth", "not_computed", DECIDE, "U45-102", "hub"),
    Trouble("a pattern that holds from 400 MHz, used at 160", "not_computed", DECIDE, "V16-002", "hub"),
    # Licence limits.
    Trouble(
        "one raster step above the assigned frequency", "licence_frequency", MUST_FIX, "U41-014", "A",
        margin=-12.5, unit="kHz",
    ),
    Trouble(_WIDTH, "licence_channel_width", MUST_FIX, "U41-017", "A", margin=-12.5, unit="kHz"),
    # 4-FSK at 9.6 kBd, deviation 2.6 kHz: 9600 + 2.4 · 2600 = 15 840 Hz
    Trouble(_WIDTH, "licence_occupied_bandwidth", MUST_FIX, "U41-017", "A", margin=-3.34, unit="kHz"),
    # 15K8 against 8K64
    Trouble(_WIDTH, "licence_emission", MUST_FIX, "U41-017", "A", margin=-7.16, unit="kHz"),
    Trouble("16-QAM, licensed for 4-FSK only", "licence_modulation", MUST_FIX, "U41-018", "A"),
    Trouble("1.5 dB above the licence", "licence_power", MUST_FIX, "U45-007", "A", margin=-1.5, unit="dB"),
    # 0.004° of latitude are 444.7 m at 46.9° (handbook of geodesy: 111.18 km a degree); tolerance 100 m
    Trouble(
        "licensed 0.004° further north, tolerance 100 m", "licence_position", MUST_FIX, "U45-008", "A",
        margin=-344.7, within=0.5, unit="m",
    ),
    # 0.02° and, by rounding to 0.001°, up to 0.0005° of longitude: 76.2 km a degree at 46.8°
    Trouble(
        "the last remote stands east of the licensed area", "licence_position", MUST_FIX, "U45-101", "R16",
        margin=-1_524.0, within=40.0, unit="m",
    ),
    Trouble("30 m, licensed up to 25 m", "licence_antenna_height", MUST_FIX, "U45-009", "B", margin=-5.0, unit="m"),
    Trouble(
        "17° off the licensed azimuth, tolerance 5°", "licence_azimuth", MUST_FIX, "U45-010", "A", margin=-12.0,
        within=0.06, unit="deg",
    ),
    Trouble("vertical, licensed horizontal", "licence_polarisation", MUST_FIX, "U45-012", "A"),
    Trouble("on the air without a licensed channel", "station_without_licence", MUST_FIX, "U45-014", "B"),
    Trouble(
        "applied for by two departments", "same_assignment_twice", DECIDE, other_station="channel", licence=TWICE_LICENCE
    ),
    # Dates, in days from the day of building.
    Trouble("ran out 6 days ago", "licence_expired", MUST_FIX, licence_of="U41-040", margin=-6.0, unit="days"),
    *(
        Trouble("relies on it", "licence_expired", MUST_FIX, "U41-040", end, margin=-6.0, unit="days") for end in "AB"
    ),
    Trouble("begins in 40 days", "not_yet_in_force", NOTE, licence_of="U41-222", margin=-40.0, unit="days"),
    *(
        Trouble(
            "is to begin in 10 days, 30 before its licence", "not_yet_in_force", MUST_FIX, "U41-222", end,
            margin=-30.0, unit="days",
        )
        for end in "AB"
    ),
    Trouble(
        "ran out 12 days ago, its renewal filed in time and undecided", "renewal_undecided", DECIDE,
        licence_of="U41-050", margin=-12.0, unit="days",
    ),
    Trouble("70 days left to file", "renewal_due", DECIDE, licence_of="U41-042", margin=70.0, unit="days"),
    Trouble(
        "to be brought into use in 45 days", "bring_into_use_near", DECIDE, licence_of="U45-040", margin=45.0, unit="days"
    ),
    Trouble("the fee is due in 12 days", "fee_due", DECIDE, licence_of="U41-048", margin=12.0, unit="days"),
    Trouble("the fee was due 20 days ago", "fee_due", MUST_FIX, licence_of="U41-049", margin=-20.0, unit="days"),
    Trouble(
        "in use for 25 days, 20 left for the notice of it", "use_notice_due", DECIDE, licence_of="U45-043", margin=20.0,
        unit="days",
    ),
    Trouble(
        "the authority took one of its frequencies back 15 days ago", "station_without_licence", MUST_FIX, "U41-026", "A"
    ),
    *(
        Trouble(
            "runs 200 days longer than its licence", "link_outlives_licence", NOTE, "U41-044", end, margin=-200.0,
            unit="days",
        )
        for end in "AB"
    ),
    Trouble(
        "800 days without a user; this authority counts 365", "channel_unused", NOTE, licence=IDLE_LICENCE,
        margin=-435.0, unit="days",
    ),
    Trouble("the pair is held for 9 more days", "reservation_lapsing", DECIDE, "U41-231", margin=9.0, unit="days"),
    # What is not granted yet has no licence yet, and says so.
    *(
        Trouble("planned or filed, no grant yet", "station_without_licence", NOTE, code, end)
        for code in ("U41-204", "U41-213", "U41-231", "U41-240", "U41-302")
        for end in "AB"
    ),
)  # fmt: skip
