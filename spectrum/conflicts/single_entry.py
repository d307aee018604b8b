"""Findings on one interferer at one victim, with the whole budget under them."""

from __future__ import annotations

import numpy as np

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

RASTER_STEPS_SEARCHED = 400
REGISTER = "the register"
_MODELS = {
    SAME_SITE: "ITU-R P.525 over the spacing at one site",
    TERRAIN: "ITU-R P.452-18 over terrain",
    SMOOTH_EARTH: "ITU-R P.452-18 over the smooth earth",
    FREE_SPACE_ONLY: "ITU-R P.525, free space only",
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
        noise_source = (
            "the radio type" if np.isnan(manmade) else f"radio type, ITU-R P.372 ({victim.environment})"
        )
        rows = [
            *self._level_rows(b, i, percent, float(b.loss.long_db[i])),
            Row("Interference at the receiver", float(b.interference_dbm[i]), "dBm", "sum", SUM),
            Row(
                "Less: thermal noise kTB",
                -float(self.noise.thermal_dbm[r]),
                "dBm",
                f"k · 290 K · {self.noise.bandwidth_khz[r]:g} kHz",
                TERM,
            ),
            Row(
                "Less: noise figure" + ("" if np.isnan(manmade) else " with man-made noise"),
                -float(self.noise.figure_db[r]),
                "dB",
                noise_source,
                TERM,
            ),
            Row("I/N", float(b.i_over_n_db[i]), "dB", "sum", SUM),
            Row("Permitted I/N", limit, "dB", self.limits.band[r].source, LIMIT),
            Row("Margin", margin, "dB", "permitted less found", MARGIN),
        ]
        return Draft(
            kind="co_channel" if overlap else "adjacent_channel",
            severity=MUST_FIX if margin < 0 else DECIDE,
            headline=f"{self._arrives(b, i)}, {_over(margin)} I/N {limit:g} dB",
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
            Row("Interference at the receiver", short, "dBm", "sum", SUM),
            Row(
                "Less: wanted signal, median",
                -wanted,
                "dBm",
                "the same budget from the other end, 50 % of time",
                TERM,
            ),
            Row("I/C", short - wanted, "dB", "sum", SUM),
            Row("Permitted I/C", -required, "dB", f"C/I {required:g} dB, {victim.mode.name}", LIMIT),
            Row("Margin", margin, "dB", "permitted less found", MARGIN),
        ]
        return Draft(
            kind="carrier_to_interference",
            severity=MUST_FIX if margin < 0 else DECIDE,
            headline=f"{self._arrives(b, i)}, {_over(margin)} what C/I {required:g} dB permits for {percent:g} % of time",
            cure=f"{-margin:.1f} dB less power at {sender.name}, or as much more wanted signal."
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
                "Path length",
                float(b.geometry.slant_km[i]),
                "km",
                "geodesic on WGS 84, height difference included",
            ),
            Row("Transmit frequency", float(network.tx_hz[t] / 1e6), "MHz", REGISTER),
            Row("Receive frequency", float(network.rx_hz[r] / 1e6), "MHz", REGISTER),
            Row(
                f"{sender.name}: off axis toward the victim",
                _angle(b.tx_off_axis_deg[i]),
                "degrees",
                "geometry",
            ),
            Row(
                f"{victim.name}: off axis toward the interferer",
                _angle(b.rx_off_axis_deg[i]),
                "degrees",
                "geometry",
            ),
        ]
        if model in (TERRAIN, SMOOTH_EARTH):
            climate = self.criteria.climate
            long = float(self.limits.long_percent[r])
            p452 = "ITU-R P.452-18"
            rows += [
                Row(
                    "Refractivity lapse ΔN",
                    float(np.asarray(climate.refractivity_lapse_n_per_km)),
                    "N/km",
                    "setting of the check",
                ),
                Row(
                    "Sea-level refractivity N0",
                    float(np.asarray(climate.surface_refractivity_n)),
                    "N",
                    "setting of the check",
                ),
                Row("Part: free space and gas", float(b.loss.free_space_db[i]), "dB", f"{p452} §4.1"),
                Row(
                    f"Part: diffraction, {long:g} % of time",
                    float(b.loss.diffraction_db[i]),
                    "dB",
                    f"{p452} §4.2",
                ),
                Row(
                    f"Part: troposcatter, {long:g} % of time",
                    float(b.loss.troposcatter_db[i]),
                    "dB",
                    f"{p452} §4.3",
                ),
                Row(f"Part: ducting, {long:g} % of time", float(b.loss.ducting_db[i]), "dB", f"{p452} §4.4"),
            ]
        return [
            *rows,
            Row("Transmitter output power", float(network.tx_power_dbm[t]), "dBm", REGISTER, TERM),
            Row(
                "Feeder and duplexer, transmit side", -float(network.line_losses_db[t]), "dB", REGISTER, TERM
            ),
            Row("Antenna gain toward the victim", float(b.tx_gain_dbi[i]), "dBi", _pattern(sender), TERM),
            Row(f"Basic transmission loss, {percent:g} % of time", -loss_db, "dB", _MODELS[model], TERM),
            Row("Antenna gain toward the interferer", float(b.rx_gain_dbi[i]), "dBi", _pattern(victim), TERM),
            Row("Feeder and duplexer, receive side", -float(network.line_losses_db[r]), "dB", REGISTER, TERM),
            Row(
                "Cross-polarisation, main beams only",
                -float(b.cross_polar_db[i]),
                "dB",
                "the antennas' discrimination",
                TERM,
            ),
            Row(
                "Frequency-dependent rejection",
                -float(b.fdr_db[i]),
                "dB",
                "ITU-R SM.337-6, from the masks",
                TERM,
            ),
        ]

    def _parties(self, b: PairBudget, i: int) -> tuple[StationRecord, StationRecord]:
        return self.network.stations[b.tx[i]], self.network.stations[b.rx[i]]

    def _offset_hz(self, b: PairBudget, i: int) -> int:
        return int(self.network.tx_hz[b.tx[i]] - self.network.rx_hz[b.rx[i]])

    def _arrives(self, b: PairBudget, i: int) -> str:
        sender, victim = self._parties(b, i)
        sent, heard = self.network.tx_hz[b.tx[i]] / 1e6, self.network.rx_hz[b.rx[i]] / 1e6
        return f"{sender.name} ({sent:.5f} MHz) arrives at {victim.name} ({heard:.5f} MHz)"

    def _not_judged(self, b: PairBudget, i: int) -> list[str]:
        sender, victim = self._parties(b, i)
        frequency_mhz = float(self.network.tx_hz[b.tx[i]] / 1e6)
        sentences = []
        if b.loss.model[i] == SMOOTH_EARTH:
            sentences.append(
                "No terrain was used: the earth is taken as smooth at the height of the lower site. "
                "Hills between the two would weaken the interference."
            )
        if b.loss.model[i] == FREE_SPACE_ONLY:
            sentences.append(
                "P.452 holds from 100 MHz to 50 GHz: outside, the least possible loss, free space, stands in."
            )
        if b.loss.model[i] == SAME_SITE:
            sentences.append(
                f"Both stand at one site: free space over {self.criteria.same_site_spacing_m:g} m or their height "
                "difference stands in until the isolation is measured."
            )
        if sender.ground_height_m is None or victim.ground_height_m is None:
            sentences.append("A ground height is missing: both sites are taken to stand at the same height.")
        for station in (sender, victim):
            for mask in station.mode.nominal_masks:
                sentences.append(
                    f"{station.mode.name} has no {mask} for this width: a nominal one stands in."
                )
            if station.link.assumptions:
                sentences.append(f"{station.link.code}: {station.link.assumptions}")
            sentences += [*pattern_gap_of(station, frequency_mhz), *azimuth_gap(station)]
        return list(dict.fromkeys(sentences))

    def _cure(self, b: PairBudget, i: int, margin: float) -> str:
        """What would bring the pair to its limit, each computed: power, channels away, polarisation."""
        sender, victim = self._parties(b, i)
        ways = [f"{-margin:.1f} dB less power at {sender.name}"]
        offset_hz, step_hz = self._offset_hz(b, i), victim.mode.channel_width_hz
        steps = np.arange(1, RASTER_STEPS_SEARCHED + 1)
        # Away from the victim: up if the sender is above it already, else down.
        away = offset_hz + steps * step_hz * (1 if offset_hz >= 0 else -1)
        fdr = rejection_table(sender.mode.emission, victim.mode.selectivity, away).fdr_db
        enough = np.flatnonzero(fdr >= b.fdr_db[i] - margin)
        if enough.size:
            ways.append(f"{steps[enough[0]]} × {step_hz / 1e3:g} kHz further away")
        discrimination = float(
            cross_polar_loss_db(
                "H",
                "V",
                sender.antenna.cross_polar_discrimination_db,
                victim.antenna.cross_polar_discrimination_db,
            )
        )
        in_beams = (
            sender.antenna.gain_dbi - b.tx_gain_dbi[i] <= MAIN_BEAM_DB
            and victim.antenna.gain_dbi - b.rx_gain_dbi[i] <= MAIN_BEAM_DB
        )
        if sender.polarisation == victim.polarisation and in_beams and discrimination >= -margin:
            ways.append(f"the other polarisation ({discrimination:.1f} dB)")
        return "Any one of: " + "; ".join(ways) + "."


def _pair(sender: StationRecord, victim: StationRecord) -> Parties:
    return Parties(sender.link.id, sender.label, victim.link.id, victim.label)


def _over(margin: float) -> str:
    return f"{-margin:.1f} dB over" if margin < 0 else f"only {margin:.1f} dB below"


def _angle(value: float) -> float | str:
    return "no boresight" if np.isnan(value) else float(value)


def _pattern(station: StationRecord) -> str:
    return f"{station.antenna.name}, {PATTERN_NAMES[station.antenna.pattern]}"
