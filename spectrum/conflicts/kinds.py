"""Every kind of finding: its name, its group, and what it means to the person who reads it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from sites.words import gettext_noop as _

INTERFERENCE: Final = _("interference")
SITE: Final = _("at a site")
LINK: Final = _("link")
LICENCE_LIMITS: Final = _("licence limits")
TIME: Final = _("time")

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
        _("Co-channel interference"),
        INTERFERENCE,
        _("A transmitter's channel overlaps a receiver's pass band and arrives above the permitted I/N."),
    ),
    Kind(
        "adjacent_channel",
        _("Adjacent-channel interference"),
        INTERFERENCE,
        _("A transmitter beside a receiver's channel spills into it above the permitted I/N."),
    ),
    Kind(
        "aggregate",
        _("Aggregate interference"),
        INTERFERENCE,
        _("All interferers of one receiver, summed in watts, exceed the permitted I/N."),
    ),
    Kind(
        "carrier_to_interference",
        _("Wanted signal too close to an interferer"),
        INTERFERENCE,
        _("An interferer that is strong for a small part of the time leaves less C/I than the mode needs."),
    ),
    Kind(
        "duplex_isolation",
        _("Duplex isolation"),
        SITE,
        _(
            "A station that transmits and receives at once needs its receiver isolated from its own noise and carrier."
        ),
    ),
    Kind(
        "transmitter_noise",
        _("Transmitter noise at a receiver"),
        SITE,
        _(
            "The sideband noise of transmitters near a receiver exceeds the permitted I/N, though their channels are apart."
        ),
    ),
    Kind(
        "receiver_blocking",
        _("Receiver blocking"),
        SITE,
        _(
            "The carriers of transmitters near a receiver come near or over the level at which it loses sensitivity."
        ),
    ),
    Kind(
        "band_half_clash",
        _("Band-half clash"),
        SITE,
        _("At one mast, one station transmits in the band half in which another receives."),
    ),
    Kind(
        "intermodulation",
        _("Intermodulation"),
        SITE,
        _(
            "Two or three transmitters near a receiver mix to a product on its channel. Lower orders are stronger and "
            "stand first; a product on a signal that makes it is not counted."
        ),
    ),
    Kind(
        "harmonic",
        _("Harmonic on a receiver"),
        SITE,
        _("A multiple of a transmit frequency falls on a receiver at the same site or near it."),
    ),
    Kind(
        "ends_not_mirrored",
        _("Ends not mirrored"),
        LINK,
        _("What one end transmits, the other must receive, in the same width."),
    ),
    Kind(
        "off_raster",
        _("Off the raster"),
        LINK,
        _("A frequency does not stand on the link's channel plan."),
    ),
    Kind(
        "equipment_limits",
        _("Equipment cannot do this"),
        LINK,
        _("Frequency or power lies outside what the radio or antenna is made for."),
    ),
    Kind(
        "as_built_differs",
        _("Found otherwise than licensed or planned"),
        LINK,
        _(
            "What a field engineer recorded at a station differs from its licence, its plan or the prediction."
        ),
    ),
    Kind(
        "not_computed",
        _("Could not be computed"),
        LINK,
        _(
            "Something needed for a judgement is missing or outside a formula's range; it counts against the link."
        ),
    ),
    Kind(
        "licence_frequency",
        _("Frequency off licence"),
        LICENCE_LIMITS,
        _("The station transmits on another frequency than the licensed one."),
    ),
    Kind(
        "licence_channel_width",
        _("Channel wider than licensed"),
        LICENCE_LIMITS,
        _("The channel is wider than the licence allows."),
    ),
    Kind(
        "licence_occupied_bandwidth",
        _("Occupied bandwidth over limit"),
        LICENCE_LIMITS,
        _("The emission occupies more than the licence allows."),
    ),
    Kind(
        "licence_emission",
        _("Emission not licensed"),
        LICENCE_LIMITS,
        _("The emission designator is not among those the licence lists."),
    ),
    Kind(
        "licence_modulation",
        _("Modulation not licensed"),
        LICENCE_LIMITS,
        _("The modulation is not among those the licence lists."),
    ),
    Kind(
        "licence_power",
        _("Power over limit"),
        LICENCE_LIMITS,
        _("Power, in the licence's own kind, exceeds the limit."),
    ),
    Kind(
        "licence_position",
        _("Position off licence"),
        LICENCE_LIMITS,
        _("The station stands outside the licensed place or area."),
    ),
    Kind(
        "licence_antenna_height",
        _("Antenna higher than licensed"),
        LICENCE_LIMITS,
        _("The antenna stands higher than the licence allows."),
    ),
    Kind(
        "licence_azimuth",
        _("Azimuth off licence"),
        LICENCE_LIMITS,
        _("The antenna points elsewhere than licensed."),
    ),
    Kind(
        "licence_polarisation",
        _("Polarisation off licence"),
        LICENCE_LIMITS,
        _("The polarisation differs from the licensed one."),
    ),
    Kind(
        "station_without_licence",
        _("Station without a licence"),
        LICENCE_LIMITS,
        _("No licensed channel allows this station to transmit."),
    ),
    Kind(
        "same_assignment_twice",
        _("Same assignment twice"),
        LICENCE_LIMITS,
        _("One assignment is used by two links, or licensed twice at one place."),
    ),
    Kind("licence_expired", _("Licence expired"), TIME, _("The licence has run out.")),
    Kind(
        "not_yet_in_force",
        _("Licence not yet in force"),
        TIME,
        _("The licence starts later than the station that relies on it."),
    ),
    Kind(
        "renewal_undecided",
        _("Renewal not decided"),
        TIME,
        _("The licence has expired and stays in force by its authority's rule until the renewal is decided."),
    ),
    Kind("renewal_due", _("Renewal due"), TIME, _("The renewal window is open and no renewal is filed.")),
    Kind(
        "bring_into_use_near",
        _("Bring-into-use date near"),
        TIME,
        _("The licence ends by itself unless it is brought into use by this date."),
    ),
    Kind(
        "use_notice_due",
        _("Notice of use due"),
        TIME,
        _("The licence was brought into use and the authority was not told."),
    ),
    Kind("fee_due", _("Fee due"), TIME, _("A licence whose fee is not paid may lapse.")),
    Kind(
        "link_outlives_licence",
        _("Link outlives its licence"),
        TIME,
        _("The link is planned to run past the licence's last day."),
    ),
    Kind(
        "channel_unused",
        _("Channel paid for and unused"),
        TIME,
        _("No live link uses this licensed channel."),
    ),
    Kind(
        "reservation_lapsing",
        _("Reservation lapsing"),
        TIME,
        _("The pair is held until a date that is near; then it is free for others."),
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
