"""The compiled search itself: receivers that may have a finding, with every pair that may have a part in it."""

from __future__ import annotations

from collections.abc import Iterator
from math import atan2, isnan, log10, pi, sqrt

import numpy as np
from numba import njit

from sites.geodesy import ecef
from spectrum.conflicts.columns import FloatArray, IntArray
from spectrum.conflicts.criteria import Criteria, Limits
from spectrum.conflicts.least_loss import line_of_sight_allowance_db
from spectrum.conflicts.neighbours import window_hz
from spectrum.conflicts.network import Network
from spectrum.conflicts.off_boresight import (
    BINS,
    FREQUENCY_SLACK,
    LEAST_RADIUS_KM,
    NEAREST_KM,
    STEEPEST_SLOPE,
    OffBoresight,
)
from spectrum.conflicts.path_loss import GREATEST_FREQUENCY_MHZ, LEAST_FREQUENCY_MHZ, LEAST_HEIGHT_M
from spectrum.radio.propagation.smooth_earth import effective_radius_km

from .floor import STEPS_PER_ROOT_KM, LossFloor
from .loss import EARTH_RADIUS_KM, level_ground_losses
from .tables import RejectionTables

PAIRS_PER_BLOCK = 1 << 20
# For the length of the geodesic taken from the chord, and for rounding.
SLACK_DB = 0.1


class Screen:
    """The arrays of one network, made once and searched for any receivers."""

    def __init__(
        self, network: Network, noise_dbm: FloatArray, limits: Limits, criteria: Criteria, *, level: bool
    ) -> None:
        self.network, self.criteria, self.limits, self.level = network, criteria, limits, level
        n = network
        self.noise_dbm = noise_dbm
        self.position_km = ecef(n.latitude_deg, n.longitude_deg) / 1e3
        self.sent_dbm = n.tx_power_dbm - n.line_losses_db + n.gain_dbi
        self.heard_db = n.gain_dbi - n.line_losses_db
        self.off_boresight = OffBoresight(n)
        self.aim = np.hstack((self.off_boresight.boresight, self.off_boresight.up))
        self.ground_m = np.where(n.ground_known, n.ground_height_m, np.nan)
        self.rejection = RejectionTables(n.modes)
        self.floor = LossFloor(n, limits, criteria) if level else None
        emitters = np.flatnonzero(n.tx_hz > 0)
        self.order = emitters[np.lexsort((n.tx_hz[emitters], n.mode[emitters]))]
        self.sorted_hz = n.tx_hz[self.order]
        self.group = np.searchsorted(n.mode[self.order], np.arange(len(n.modes) + 1))

    def windows(self, receivers: IntArray) -> tuple[IntArray, IntArray]:
        """First and last place, in the order of emissions, of those each receiver may hear: one column a mode."""
        n = self.network
        first = np.zeros((len(receivers), len(n.modes)), dtype=np.int64)
        last = np.zeros_like(first)
        heard_hz, heard_mode = n.rx_hz[receivers], n.mode[receivers]
        for e, emission in enumerate(n.modes):
            start, stop = int(self.group[e]), int(self.group[e + 1])
            if start == stop:
                continue
            hertz = self.sorted_hz[start:stop]
            for s, selectivity in enumerate(n.modes):
                of_mode = np.flatnonzero(heard_mode == s)
                low, high = window_hz(emission, selectivity)
                first[of_mode, e] = start + np.searchsorted(hertz, heard_hz[of_mode] + low, side="left")
                last[of_mode, e] = start + np.searchsorted(hertz, heard_hz[of_mode] + high, side="right")
        return first, last

    def pairs(self, receivers: IntArray, wanted_dbm: FloatArray) -> Iterator[tuple[IntArray, IntArray, int]]:
        """Blocks of transmitters and receivers, and how many of the receivers are done."""
        n, c, limits = self.network, self.criteria, self.limits
        # In order of mode and frequency neighbours share what the processor has at hand.
        receivers = receivers[np.lexsort((n.rx_hz[receivers], n.mode[receivers]))]
        first, last = self.windows(receivers)
        longest = int((last - first).sum(axis=1).max(initial=0))
        room = max(PAIRS_PER_BLOCK, longest)
        out_tx, out_rx = np.empty(room, dtype=np.int64), np.empty(room, dtype=np.int64)
        level_buffer = np.empty((2, max(longest, 1)))
        tx_buffer = np.empty(max(longest, 1), dtype=np.int64)
        by_noise = self.noise_dbm + limits.i_over_n_db - max(c.decide_within_db, c.aggregate_depth_db)
        single = self.noise_dbm + limits.i_over_n_db - c.decide_within_db
        summed = self.noise_dbm + limits.aggregate_db - c.decide_within_db
        by_wanted = wanted_dbm - n.required_ci_db - c.decide_within_db
        allowed_long = line_of_sight_allowance_db(limits.long_percent)
        allowed_short = line_of_sight_allowance_db(limits.short_percent)
        radius = float(effective_radius_km(float(np.asarray(c.climate.refractivity_lapse_n_per_km))))
        # What a receiver lets in, as a power ratio over 1 km and 1 GHz, so that most pairs fall without a logarithm.
        lets_in = 10.0 ** ((self.heard_db + SLACK_DB - 92.4) / 10.0)
        reach = lets_in * np.fmax(
            10.0 ** ((allowed_long - by_noise) / 10.0),
            np.nan_to_num(10.0 ** ((allowed_short - by_wanted) / 10.0)),
        )
        order, floor = self.order, self.floor
        sent = 10.0 ** (self.sent_dbm[order] / 10.0) / np.square(n.tx_hz[order] / 1e9)
        # By place, in the order in which they are looked at: what is looked at together lies together.
        near = np.column_stack((self.position_km[order], sent, n.tx_hz[order]))
        further = np.column_stack(
            (self.sent_dbm, self.ground_m, n.antenna_height_agl_m, self.off_boresight.up[:, 2])
        )
        nowhere = np.zeros(len(n), dtype=np.int64)
        of_frequency = (floor.frequency if floor is not None else nowhere)[order]
        tables = self.off_boresight.lost_db
        done = 0
        while done < len(receivers):
            done, found = _search(
                done, receivers, first, last, order,
                n.link_id, n.own, n.starts, n.ends, n.mode, n.rx_hz,
                self.position_km, self.aim, further, self.heard_db, self.off_boresight.rx_row,
                near, n.link_id[order], n.own[order], n.starts[order], n.ends[order],
                self.aim[order], self.off_boresight.tx_row[order], further[order], n.vertical[order], of_frequency,
                tables, 10.0 ** (-tables / 10.0),
                self.rejection.values, 10.0 ** (-self.rejection.values / 10.0), self.rejection.start,
                self.rejection.low_hz, self.rejection.step_hz, self.rejection.steps,
                reach, by_noise, single, summed, by_wanted,
                limits.long_percent, limits.short_percent, allowed_long, allowed_short,
                c.policy_radius_km, c.same_site_spacing_m / 1e3, c.same_site_within_m / 1e3,
                radius, float(np.asarray(c.climate.surface_refractivity_n)), self.level,
                floor.values if floor is not None else np.zeros((1, 1, 1, 1, 2), dtype=np.float32),
                floor.percentages if floor is not None else nowhere,
                out_tx, out_rx, level_buffer, tx_buffer,
            )  # fmt: skip
            yield out_tx[:found].copy(), out_rx[:found].copy(), done


@njit(cache=True)
def _bin(dx, dy, dz, squared, vectors, at):  # type: ignore[no-untyped-def]
    """The entry of a table of off_boresight for a direction; −1 where there is no boresight or no direction."""
    along = dx * vectors[at, 0] + dy * vectors[at, 1] + dz * vectors[at, 2]
    rise = dx * vectors[at, 3] + dy * vectors[at, 4] + dz * vectors[at, 5]
    across = squared - rise * rise
    if isnan(along) or across <= 0.0:
        return -1
    return int(sqrt(min(max(0.5 - 0.5 * along / sqrt(across), 0.0), 1.0)) * BINS)


@njit(cache=True, nogil=True)
def _search(  # type: ignore[no-untyped-def]  # noqa: PLR0912, PLR0915 - one loop, kept together for its compiler
    done, receivers, first, last, order,
    link_id, own, starts, ends, mode, rx_hz,
    position, aim, further, heard_db, rx_row,
    near, of_link, of_own, of_start, of_end,
    of_aim, of_row, of_further, of_vertical, of_frequency,
    lost_db, kept_part,
    fdr_values, admitted, fdr_start, fdr_low, fdr_step, fdr_steps,
    reach, by_noise, single, summed, by_wanted,
    long_percent, short_percent, allowed_long, allowed_short,
    policy_km, spacing_km, same_site_km,
    radius, refractivity, level,
    floor_values, floor_percentages,
    out_tx, out_rx, levels, txs,
):  # fmt: skip
    found = 0
    modes = first.shape[1]
    policy_squared, spacing_squared = policy_km * policy_km, spacing_km * spacing_km
    while done < len(receivers):
        room = 0
        for e in range(modes):
            room += last[done, e] - first[done, e]
        if room > len(out_tx) - found:
            break
        r = receivers[done]
        kept = 0
        total = 0.0
        in_sum = 0
        matters = False
        floor_long, floor_short = by_noise[r], by_wanted[r]
        s = mode[r]
        link_r, own_r, reach_r, heard_hz = link_id[r], own[r], reach[r], float(rx_hz[r])
        x0, y0, z0 = position[r, 0], position[r, 1], position[r, 2]
        ground_r, agl_r = further[r, 1], further[r, 2]
        for e in range(modes):
            table, low, step, steps = fdr_start[e, s], fdr_low[e, s], fdr_step[e, s], fdr_steps[e, s]
            for place in range(first[done, e], last[done, e]):
                dx, dy, dz = near[place, 0] - x0, near[place, 1] - y0, near[place, 2] - z0
                squared = dx * dx + dy * dy + dz * dz
                if squared > policy_squared:
                    continue
                hertz = near[place, 4]
                at = (hertz - heard_hz - low) / step
                k = table + min(max(int(at), 0), steps - 1)
                if at > k - table and k + 1 - table < steps and admitted[k + 1] > admitted[k]:
                    k += 1
                strength = near[place, 3] * admitted[k] * reach_r
                if strength < max(squared, spacing_squared):
                    continue
                if of_link[place] == link_r or not (of_own[place] or own_r):
                    continue
                ground_t = of_further[place, 1]
                h_t, h_r = of_further[place, 2], agl_r
                if ground_t > ground_r:
                    h_t += ground_t - ground_r
                elif ground_t < ground_r:
                    h_r += ground_r - ground_t
                chord = sqrt(squared)
                lost = 0.0
                if (
                    chord > NEAREST_KM
                    and abs(h_t - h_r) / 1e3 / chord + chord / (2.0 * LEAST_RADIUS_KM) < STEEPEST_SLOPE
                ):
                    off = _bin(-dx, -dy, -dz, squared, of_aim, place)
                    if off >= 0:
                        row = of_row[place]
                        lost = lost_db[row, off]
                        strength *= kept_part[row, off]
                        if strength < squared:
                            continue
                    if hertz < heard_hz * FREQUENCY_SLACK and hertz * FREQUENCY_SLACK > heard_hz:
                        off = _bin(dx, dy, dz, squared, aim, r)
                        if off >= 0:
                            row = rx_row[r]
                            lost += lost_db[row, off]
                            if strength * kept_part[row, off] < squared:
                                continue
                if of_start[place] > ends[r] or starts[r] > of_end[place]:
                    continue
                f = hertz / 1e9
                strongest = of_further[place, 0] + heard_db[r] - fdr_values[k] - lost + SLACK_DB
                seen = level and LEAST_FREQUENCY_MHZ <= f * 1e3 <= GREATEST_FREQUENCY_MHZ
                if seen:
                    h_t, h_r = max(h_t, LEAST_HEIGHT_M), max(h_r, LEAST_HEIGHT_M)
                    of_height = int(sqrt(h_t) + sqrt(h_r))
                    if of_height < floor_values.shape[2]:
                        of_distance = int(sqrt(chord) * STEPS_PER_ROOT_KM)
                        least = floor_values[
                            floor_percentages[r], of_frequency[place], of_height, of_distance
                        ]
                        if strongest - least[0] < floor_long and not strongest - least[1] >= floor_short:
                            continue
                free_space = 92.4 + 20.0 * log10(f * max(chord, spacing_km))
                if f * 1e3 < LEAST_FREQUENCY_MHZ or f * 1e3 > GREATEST_FREQUENCY_MHZ:
                    long_db, short_db = free_space, free_space
                elif chord < 1.2 * same_site_km or not seen:
                    long_db, short_db = free_space - allowed_long[r], free_space - allowed_short[r]
                else:
                    half = chord / (2.0 * EARTH_RADIUS_KM)
                    d = chord * (1.0 + half * half / 6.0 + 0.075 * half**4)
                    # Sine of the latitude half way, from the normals of the two ends.
                    apart = max(1.0 - 2.0 * half * half, 0.0)
                    middle = abs(of_further[place, 3] + further[r, 3]) / sqrt(2.0 * (1.0 + apart))
                    latitude = (
                        90.0 if middle >= 1.0 else atan2(middle, sqrt(1.0 - middle * middle)) * 180.0 / pi
                    )
                    long_db, short_db = level_ground_losses(
                        f, max(d, spacing_km), h_t, h_r,
                        long_percent[r], short_percent[r], latitude, of_vertical[place], radius, refractivity,
                    )  # fmt: skip
                of_long, of_short = strongest - long_db, strongest - short_db
                reaches = of_short >= floor_short
                if of_long < floor_long and not reaches:
                    continue
                txs[kept] = order[place]
                levels[0, kept] = of_long
                kept += 1
                if of_long >= floor_long:
                    total += 10.0 ** (of_long / 10.0)
                    in_sum += 1
                if reaches or of_long >= single[r]:
                    matters = True
        if in_sum >= 2 and 10.0 * log10(total) >= summed[r]:
            matters = True
        if matters:
            for i in range(kept):
                out_tx[found] = txs[i]
                out_rx[found] = r
                found += 1
        done += 1
    return done, found
