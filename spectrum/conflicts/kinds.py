"""Every kind of finding: its name, its group, and what it means to the person who reads it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

INTERFERENCE: Final = "interference"
SITE: Final = "at a site"
LINK: Final = "link"
LICENCE_LIMITS: Final = "licence limits"
TIME: Final = "time"

MUST_FIX: Final = "must_fix"
DECIDE: Final = "decide"
NOTE: Final = "note"
RANK: Final = {MUST_FIX: 0, DECIDE: 1, NOTE: 2}


@dataclass(frozen=True)
class Kind:
    """One kind of finding. ``code`` is stored; ``title`` and ``explanation`` are shown."""

    code: str
    title: str
    group: str
    explanation: str


_ALL: Final = (
    Kind(
        "co_channel",
        "Co-channel interference",
        INTERFERENCE,
        "A transmitter's channel overlaps a receiver's pass band and arrives above the permitted I/N.",
    ),
    Kind(
        "adjacent_channel",
        "Adjacent-channel interference",
        INTERFERENCE,
        "A transmitter beside a receiver's channel spills into it above the permitted I/N.",
    ),
    Kind(
        "aggregate",
        "Aggregate interference",
        INTERFERENCE,
        "All interferers of one receiver, summed in watts, exceed the permitted I/N.",
    ),
    Kind(
        "carrier_to_interference",
        "Wanted signal too close to an interferer",
        INTERFERENCE,
        "An interferer that is strong for a small part of the time leaves less C/I than the mode needs.",
    ),
    Kind(
        "duplex_isolation",
        "Duplex isolation",
        SITE,
        "A station that transmits and receives at once needs its receiver isolated from its own noise and carrier.",
    ),
    Kind(
        "transmitter_noise",
        "Transmitter noise at a receiver",
        SITE,
        "The sideband noise of transmitters near a receiver exceeds the permitted I/N, though their channels are apart.",
    ),
    Kind(
        "receiver_blocking",
        "Receiver blocking",
        SITE,
        "The carriers of transmitters near a receiver come near or over the level at which it loses sensitivity.",
    ),
    Kind(
        "band_half_clash",
        "Band-half clash",
        SITE,
        "At one mast, one station transmits in the band half in which another receives.",
    ),
    Kind(
        "intermodulation",
        "Intermodulation",
        SITE,
        "Two or three transmitters near a receiver mix to a product on its channel. Lower orders are stronger and "
        "stand first; a product on a signal that makes it is not counted.",
    ),
    Kind(
        "harmonic",
        "Harmonic on a receiver",
        SITE,
        "A multiple of a transmit frequency falls on a receiver at the same site or near it.",
    ),
    Kind(
        "ends_not_mirrored",
        "Ends not mirrored",
        LINK,
        "What one end transmits, the other must receive, in the same width.",
    ),
    Kind(
        "off_raster",
        "Off the raster",
        LINK,
        "A frequency does not stand on the link's channel plan.",
    ),
    Kind(
        "equipment_limits",
        "Equipment cannot do this",
        LINK,
        "Frequency or power lies outside what the radio or antenna is made for.",
    ),
    Kind(
        "as_built_differs",
        "Found otherwise than licensed or planned",
        LINK,
        "What a field engineer recorded at a station differs from its licence, its plan or the prediction.",
    ),
    Kind(
        "not_computed",
        "Could not be computed",
        LINK,
        "Something needed for a judgement is missing or outside a formula's range; it counts against the link.",
    ),
    Kind(
        "licence_frequency",
        "Frequency off licence",
        LICENCE_LIMITS,
        "The station transmits on another frequency than the licensed one.",
    ),
    Kind(
        "licence_channel_width",
        "Channel wider than licensed",
        LICENCE_LIMITS,
        "The channel is wider than the licence allows.",
    ),
    Kind(
        "licence_occupied_bandwidth",
        "Occupied bandwidth over limit",
        LICENCE_LIMITS,
        "The emission occupies more than the licence allows.",
    ),
    Kind(
        "licence_emission",
        "Emission not licensed",
        LICENCE_LIMITS,
        "The emission designator is not among those the licence lists.",
    ),
    Kind(
        "licence_modulation",
        "Modulation not licensed",
        LICENCE_LIMITS,
        "The modulation is not among those the licence lists.",
    ),
    Kind(
        "licence_power",
        "Power over limit",
        LICENCE_LIMITS,
        "Power, in the licence's own kind, exceeds the limit.",
    ),
    Kind(
        "licence_position",
        "Position off licence",
        LICENCE_LIMITS,
        "The station stands outside the licensed place or area.",
    ),
    Kind(
        "licence_antenna_height",
        "Antenna higher than licensed",
        LICENCE_LIMITS,
        "The antenna stands higher than the licence allows.",
    ),
    Kind(
        "licence_azimuth",
        "Azimuth off licence",
        LICENCE_LIMITS,
        "The antenna points elsewhere than licensed.",
    ),
    Kind(
        "licence_polarisation",
        "Polarisation off licence",
        LICENCE_LIMITS,
        "The polarisation differs from the licensed one.",
    ),
    Kind(
        "station_without_licence",
        "Station without a licence",
        LICENCE_LIMITS,
        "No licensed channel allows this station to transmit.",
    ),
    Kind(
        "same_assignment_twice",
        "Same assignment twice",
        LICENCE_LIMITS,
        "One assignment is used by two links, or licensed twice at one place.",
    ),
    Kind("licence_expired", "Licence expired", TIME, "The licence has run out."),
    Kind(
        "not_yet_in_force",
        "Licence not yet in force",
        TIME,
        "The licence starts later than the station that relies on it.",
    ),
    Kind("renewal_due", "Renewal due", TIME, "The renewal window is open and no renewal is filed."),
    Kind(
        "bring_into_use_near",
        "Bring-into-use date near",
        TIME,
        "The licence ends by itself unless it is brought into use by this date.",
    ),
    Kind(
        "use_notice_due",
        "Notice of use due",
        TIME,
        "The licence was brought into use and the authority was not told.",
    ),
    Kind("fee_due", "Fee due", TIME, "A licence whose fee is not paid may lapse."),
    Kind(
        "link_outlives_licence",
        "Link outlives its licence",
        TIME,
        "The link is planned to run past the licence's last day.",
    ),
    Kind("channel_unused", "Channel paid for and unused", TIME, "No live link uses this licensed channel."),
    Kind(
        "reservation_lapsing",
        "Reservation lapsing",
        TIME,
        "The pair is held until a date that is near; then it is free for others.",
    ),
)

KINDS: Final[dict[str, Kind]] = {kind.code: kind for kind in _ALL}

# Their findings name the site of the receiver; a run for some sites renews all of them there.
SITE_KINDS: Final = tuple(kind.code for kind in _ALL if kind.group == SITE)

# licences.limits names its limits without the prefix
LIMIT_KINDS: Final = {
    code.removeprefix("licence_"): code
    for code in KINDS
    if code.startswith("licence_") and code not in ("licence_expired",)
}
