"""Findings on one interferer at one victim, with the whole budget under them."""

from __future__ import annotations

import numpy as np

from sites.sentences import Sentence, joined, repeated, sentence
from sites.words import gettext_noop as _
from spectrum.radio.antennas.cross_polar import cross_polar_loss_db
from spectrum.radio.rejection import rejection_table

from .antenna_gain import PATTERN_NAMES
from .budget import MAIN_BEAM_DB, Noise, PairBudget
from .criteria import Criteria, Limits
from .drafts import Draft, Parties
from .evidence import LIMIT, MARGIN, SUM, TERM, Row
from .gaps import azimuth_gap, pattern_gap_of
from .kinds import DECIDE, MUST_FIX
from .network import Network, StationRecord
from .path_loss import FREE_SPACE_ONLY, SAME_SITE, SMOOTH_EARTH, TERRAIN
from .wording import assumed_of, over

RASTER_STEPS_SEARCHED = 400
REGISTER = _("the register")
_MODELS = {
    SAME_SITE: _("ITU-R P.525 over the spacing at one site"),
    TERRAIN: _("ITU-R P.452-18 over terrain"),
    SMOOTH_EARTH: _("ITU-R P.452-18 over the smooth earth"),
    FREE_SPACE_ONLY: _("ITU-R P.525, free space only"),
}


class Explainer:
    """Turns pairs of a budget into findings."""

    def __init__(self, network: Network, noise: Noise, limits: Limits, criteria: Criteria) -> None:
        self.network, self.noise, self.limits, self.criteria = network, noise, limits, criteria

    def drafts(self, b: PairBudget) -> list[Draft]:
        """The findings of all pairs that are over a limit, or so close below that a person must decide."""
        near = self.criteria.decide_within_db
        by_noise = [self.noise_draft(b, int(i)) for i in np.flatnonzero(b.margin_db <= near)]
        return by_noise + [self.wanted_draft(b, int(i)) for i in np.flatnonzero(b.ci_margin_db <= near)]

    def noise_draft(self, b: PairBudget, i: int) -> Draft:
        """The finding of a pair against the I/N criterion."""
        sender, victim = self._parties(b, i)
        margin, limit = float(b.margin_db[i]), float(self.limits.i_over_n_db[b.rx[i]])
        overlap = abs(self._offset_hz(b, i)) * 2 < sender.mode.channel_width_hz + victim.mode.channel_width_hz
        percent = float(self.limits.long_percent[b.rx[i]])
        r = int(b.rx[i])
        manmade = self.noise.manmade_figure_db[r]
        alone = bool(np.isnan(manmade))
        noise_source = (
            _("the radio type")
            if alone
            else repeated(_("radio type, ITU-R P.372 ({environment})"), environment=victim.environment)
        )
        rows = [
            *self._level_rows(b, i, percent, float(b.loss.long_db[i])),
            Row(_("Interference at the receiver"), float(b.interference_dbm[i]), "dBm", _("sum"), SUM),
            Row(
                _("Less: thermal noise kTB"),
                -float(self.noise.thermal_dbm[r]),
                "dBm",
                repeated("k · 290 K · {width:g} kHz", width=self.noise.bandwidth_khz[r]),
                TERM,
            ),
            Row(
                _("Less: noise figure") if alone else _("Less: noise figure with man-made noise"),
                -float(self.noise.figure_db[r]),
                "dB",
                noise_source,
                TERM,
            ),
            Row(_("I/N"), float(b.i_over_n_db[i]), "dB", _("sum"), SUM),
            Row(_("Permitted I/N"), limit, "dB", self.limits.band[r].source, LIMIT),
            Row(_("Margin"), margin, "dB", _("permitted less found"), MARGIN),
        ]
        return Draft(
            kind="co_channel" if overlap else "adjacent_channel",
            severity=MUST_FIX if margin < 0 else DECIDE,
            headline=sentence(
                _("{arrives}, {over} I/N {limit:g} dB"),
                arrives=self._arrives(b, i),
                over=over(margin),
                limit=limit,
            ),
            cure=self._cure(b, i, margin) if margin < 0 else "",
            margin=margin,
            margin_unit="dB",
            parties=_pair(sender, victim),
            evidence=rows,
            not_judged=self._not_judged(b, i),
        )

    def wanted_draft(self, b: PairBudget, i: int) -> Draft:
        """The finding of a pair against the C/I that the victim's mode requires."""
        sender, victim = self._parties(b, i)
        margin = float(b.ci_margin_db[i])
        required = float(self.network.required_ci_db[b.rx[i]])
        percent = float(self.limits.short_percent[b.rx[i]])
        short, wanted = float(b.short_term_dbm[i]), float(b.wanted_dbm[i])
        rows = [
            *self._level_rows(b, i, percent, float(b.loss.short_db[i])),
            Row(_("Interference at the receiver"), short, "dBm", _("sum"), SUM),
            Row(
                _("Less: wanted signal, median"),
                -wanted,
                "dBm",
                # xgettext:no-python-format
                _("the same budget from the other end, 50 % of time"),
                TERM,
            ),
            Row(_("I/C"), short - wanted, "dB", _("sum"), SUM),
            Row(
                _("Permitted I/C"),
                -required,
                "dB",
                repeated("C/I {required:g} dB, {mode}", required=required, mode=victim.mode.name),
                LIMIT,
            ),
            Row(_("Margin"), margin, "dB", _("permitted less found"), MARGIN),
        ]
        return Draft(
            kind="carrier_to_interference",
            severity=MUST_FIX if margin < 0 else DECIDE,
            headline=sentence(
                # xgettext:no-python-format
                _("{arrives}, {over} what C/I {required:g} dB permits for {percent:g} % of time"),
                arrives=self._arrives(b, i),
                over=over(margin),
                required=required,
                percent=percent,
            ),
            cure=sentence(
                _("{excess:.1f} dB less power at {sender}, or as much more wanted signal."),
                excess=-margin,
                sender=sender.name,
            )
            if margin < 0
            else "",
            margin=margin,
            margin_unit="dB",
            parties=_pair(sender, victim),
            evidence=rows,
            not_judged=self._not_judged(b, i),
        )

    def _level_rows(self, b: PairBudget, i: int, percent: float, loss_db: float) -> list[Row]:
        network = self.network
        sender, victim = self._parties(b, i)
        t, r = int(b.tx[i]), int(b.rx[i])
        model = int(b.loss.model[i])
        rows = [
            Row(
                _("Path length"),
                float(b.geometry.slant_km[i]),
                "km",
                _("geodesic on WGS 84, height difference included"),
            ),
            Row(_("Transmit frequency"), float(network.tx_hz[t] / 1e6), "MHz", REGISTER),
            Row(_("Receive frequency"), float(network.rx_hz[r] / 1e6), "MHz", REGISTER),
            Row(
                repeated(_("{station}: off axis toward the victim"), station=sender.name),
                _angle(b.tx_off_axis_deg[i]),
                "degrees",
                _("geometry"),
            ),
            Row(
                repeated(_("{station}: off axis toward the interferer"), station=victim.name),
                _angle(b.rx_off_axis_deg[i]),
                "degrees",
                _("geometry"),
            ),
        ]
        if model in (TERRAIN, SMOOTH_EARTH):
            climate = self.criteria.climate
            long = float(self.limits.long_percent[r])
            p452 = "ITU-R P.452-18"
            rows += [
                Row(
                    _("Refractivity lapse ΔN"),
                    float(np.asarray(climate.refractivity_lapse_n_per_km)),
                    "N/km",
                    _("setting of the check"),
                ),
                Row(
                    _("Sea-level refractivity N0"),
                    float(np.asarray(climate.surface_refractivity_n)),
                    "N",
                    _("setting of the check"),
                ),
                Row(_("Part: free space and gas"), float(b.loss.free_space_db[i]), "dB", f"{p452} §4.1"),
                Row(
                    # xgettext:no-python-format
                    repeated(_("Part: diffraction, {percent:g} % of time"), percent=long),
                    float(b.loss.diffraction_db[i]),
                    "dB",
                    f"{p452} §4.2",
                ),
                Row(
                    # xgettext:no-python-format
                    repeated(_("Part: troposcatter, {percent:g} % of time"), percent=long),
                    float(b.loss.troposcatter_db[i]),
                    "dB",
                    f"{p452} §4.3",
                ),
                Row(
                    # xgettext:no-python-format
                    repeated(_("Part: ducting, {percent:g} % of time"), percent=long),
                    float(b.loss.ducting_db[i]),
                    "dB",
                    f"{p452} §4.4",
                ),
            ]
        return [
            *rows,
            Row(_("Transmitter output power"), float(network.tx_power_dbm[t]), "dBm", REGISTER, TERM),
            Row(
                _("Feeder and duplexer, transmit side"),
                -float(network.line_losses_db[t]),
                "dB",
                REGISTER,
                TERM,
            ),
            Row(_("Antenna gain toward the victim"), float(b.tx_gain_dbi[i]), "dBi", _pattern(sender), TERM),
            Row(
                # xgettext:no-python-format
                repeated(_("Basic transmission loss, {percent:g} % of time"), percent=percent),
                -loss_db,
                "dB",
                _MODELS[model],
                TERM,
            ),
            Row(
                _("Antenna gain toward the interferer"),
                float(b.rx_gain_dbi[i]),
                "dBi",
                _pattern(victim),
                TERM,
            ),
            Row(
                _("Feeder and duplexer, receive side"),
                -float(network.line_losses_db[r]),
                "dB",
                REGISTER,
                TERM,
            ),
            Row(
                _("Cross-polarisation, main beams only"),
                -float(b.cross_polar_db[i]),
                "dB",
                _("the antennas' discrimination"),
                TERM,
            ),
            Row(
                _("Frequency-dependent rejection"),
                -float(b.fdr_db[i]),
                "dB",
                _("ITU-R SM.337-6, from the masks"),
                TERM,
            ),
        ]

    def _parties(self, b: PairBudget, i: int) -> tuple[StationRecord, StationRecord]:
        return self.network.stations[b.tx[i]], self.network.stations[b.rx[i]]

    def _offset_hz(self, b: PairBudget, i: int) -> int:
        return int(self.network.tx_hz[b.tx[i]] - self.network.rx_hz[b.rx[i]])

    def _arrives(self, b: PairBudget, i: int) -> Sentence:
        sender, victim = self._parties(b, i)
        sent, heard = self.network.tx_hz[b.tx[i]] / 1e6, self.network.rx_hz[b.rx[i]] / 1e6
        return sentence(
            _("{sender} ({sent:.5f} MHz) arrives at {victim} ({heard:.5f} MHz)"),
            sender=sender.name,
            sent=sent,
            victim=victim.name,
            heard=heard,
        )

    def _not_judged(self, b: PairBudget, i: int) -> list[str]:
        sender, victim = self._parties(b, i)
        frequency_mhz = float(self.network.tx_hz[b.tx[i]] / 1e6)
        sentences: list[str] = []
        if b.loss.model[i] == SMOOTH_EARTH:
            sentences.append(
                _(
                    "No terrain was used: the earth is taken as smooth at the height of the lower site. "
                    "Hills between the two would weaken the interference."
                )
            )
        if b.loss.model[i] == FREE_SPACE_ONLY:
            sentences.append(
                _(
                    "P.452 holds from 100 MHz to 50 GHz: outside, the least possible loss, free space, stands in."
                )
            )
        if b.loss.model[i] == SAME_SITE:
            sentences.append(
                repeated(
                    _(
                        "Both stand at one site: free space over {spacing:g} m or their height difference "
                        "stands in until the isolation is measured."
                    ),
                    spacing=self.criteria.same_site_spacing_m,
                )
            )
        if sender.ground_height_m is None or victim.ground_height_m is None:
            sentences.append(
                _("A ground height is missing: both sites are taken to stand at the same height.")
            )
        for station in (sender, victim):
            for mask in station.mode.nominal_masks:
                sentences.append(
                    repeated(
                        _("{mode} has no {mask} for this width: a nominal one stands in."),
                        mode=station.mode.name,
                        mask=repeated(mask),
                    )
                )
            if station.link.assumptions:
                sentences.append(assumed_of(station))
            sentences += [*pattern_gap_of(station, frequency_mhz), *azimuth_gap(station)]
        return list(dict.fromkeys(sentences))

    def _cure(self, b: PairBudget, i: int, margin: float) -> str:
        """What would bring the pair to its limit, each computed: power, channels away, polarisation."""
        sender, victim = self._parties(b, i)
        ways = [
            sentence(_("{excess:.1f} dB less power at {sender}"), excess=-margin, sender=sender.name),
        ]
        offset_hz, step_hz = self._offset_hz(b, i), victim.mode.channel_width_hz
        steps = np.arange(1, RASTER_STEPS_SEARCHED + 1)
        # Away from the victim: up if the sender is above it already, else down.
        away = offset_hz + steps * step_hz * (1 if offset_hz >= 0 else -1)
        fdr = rejection_table(sender.mode.emission, victim.mode.selectivity, away).fdr_db
        enough = np.flatnonzero(fdr >= b.fdr_db[i] - margin)
        if enough.size:
            ways.append(
                sentence(
                    _("{steps} × {step:g} kHz further away"), steps=int(steps[enough[0]]), step=step_hz / 1e3
                )
            )
        in_beams = (
            sender.antenna.gain_dbi - b.tx_gain_dbi[i] <= MAIN_BEAM_DB
            and victim.antenna.gain_dbi - b.rx_gain_dbi[i] <= MAIN_BEAM_DB
        )
        if sender.polarisation == victim.polarisation and in_beams:
            xpd_db = [one.antenna.cross_polar_discrimination_db for one in (sender, victim)]
            discrimination = float(cross_polar_loss_db("H", "V", *xpd_db))
            if discrimination >= -margin:
                turned = _("the other polarisation ({discrimination:.1f} dB)")
                ways.append(sentence(turned, discrimination=discrimination))
        return sentence(_("Any one of: {ways}."), ways=joined("; ", ways))


def _pair(sender: StationRecord, victim: StationRecord) -> Parties:
    return Parties(sender.link.id, sender.label, victim.link.id, victim.label)


def _angle(value: float) -> float | str:
    return _("no boresight") if np.isnan(value) else float(value)


def _pattern(station: StationRecord) -> str:
    return repeated(
        "{antenna}, {pattern}",
        antenna=station.antenna.name,
        pattern=repeated(PATTERN_NAMES[station.antenna.pattern]),
    )
