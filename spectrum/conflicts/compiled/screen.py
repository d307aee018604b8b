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
from spectrum.conflicts.path_loss import GREATEST_FREQUENCY_MHZ, LEAST_FREQUENCY_MHZ, LEAST_HEIGHT_M
from spectrum.radio.propagation.smooth_earth import effective_radius_km

from .floor import STEPS_PER_ROOT_KM, LossFloor
from .loss import EARTH_RADIUS_KM, level_ground_losses
from .tables import FREQUENCY_SLACK, STEEPEST_DEG, RejectionTables, gain_tables

PAIRS_PER_BLOCK = 1 << 20
# For the length of the geodesic taken from the chord, for azimuths of the chord, and for rounding.
SLACK_DB = 0.1
STEEPEST_SLOPE = float(np.tan(np.radians(STEEPEST_DEG)))


class Screen:
    """The arrays of one network, made once and searched for any receivers."""

    def __init__(
        self, network: Network, noise_dbm: FloatArray, limits: Limits, criteria: Criteria, *, level: bool
    ) -> None:
        self.network, self.criteria, self.limits, self.level = network, criteria, limits, level
        n = network
        self.noise_dbm = noise_dbm
        self.position_km = ecef(n.latitude_deg, n.longitude_deg) / 1e3
        latitude, longitude = np.radians(n.latitude_deg), np.radians(n.longitude_deg)
        zero = np.zeros_like(latitude)
        self.east = np.column_stack((-np.sin(longitude), np.cos(longitude), zero))
        self.north = np.column_stack(
            (
                -np.sin(latitude) * np.cos(longitude),
                -np.sin(latitude) * np.sin(longitude),
                np.cos(latitude),
            )
        )
        self.up_z = np.sin(latitude)
        self.sent_dbm = n.tx_power_dbm - n.line_losses_db + n.gain_dbi
        self.heard_db = n.gain_dbi - n.line_losses_db
        level_enough = np.abs(n.tilt_deg) <= STEEPEST_DEG
        self.boresight_rad = np.radians(np.where(level_enough, n.azimuth_deg, np.nan))
        self.tx_row, self.tx_lost = gain_tables(n.antennas, n.antenna, n.tx_hz)
        self.rx_row, self.rx_lost = gain_tables(n.antennas, n.antenna, n.rx_hz)
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
        order = self.order
        sent = 10.0 ** (self.sent_dbm[order] / 10.0) / np.square(n.tx_hz[order] / 1e9)
        # What is looked at first, in the order in which it is looked at.
        near = (n.link_id[order], n.own[order], self.position_km[order], n.tx_hz[order])
        admitted = 10.0 ** (-self.rejection.values / 10.0)
        floor = self.floor
        values = floor.values if floor is not None else np.zeros((1, 1, 1, 1, 2), dtype=np.float32)
        nowhere = np.zeros(len(n), dtype=np.int64)
        done = 0
        while done < len(receivers):
            done, found = _search(
                done, receivers, first, last, self.order,
                n.link_id, n.own, n.starts, n.ends, n.mode, n.tx_hz, n.rx_hz,
                self.position_km, self.east, self.north, self.up_z,
                n.ground_known, n.ground_height_m, n.antenna_height_agl_m, n.vertical,
                self.sent_dbm, self.heard_db, self.boresight_rad,
                self.tx_row, self.tx_lost, self.rx_row, self.rx_lost,
                self.rejection.values, self.rejection.start, self.rejection.low_hz,
                self.rejection.step_hz, self.rejection.steps,
                by_noise, single, summed, by_wanted,
                limits.long_percent, limits.short_percent, allowed_long, allowed_short,
                c.policy_radius_km, c.same_site_spacing_m / 1e3, c.same_site_within_m / 1e3,
                radius, float(np.asarray(c.climate.surface_refractivity_n)), self.level,
                *near, reach, sent, admitted, values,
                floor.percentages if floor is not None else nowhere,
                floor.frequency if floor is not None else nowhere,
                out_tx, out_rx, level_buffer, tx_buffer,
            )  # fmt: skip
            yield out_tx[:found].copy(), out_rx[:found].copy(), done


@njit(cache=True)
def _off_boresight_bin(boresight, dx, dy, dz, east, north):  # type: ignore[no-untyped-def]
    """Whole degrees between the boresight and a direction, in azimuth; −1 where there is none of either."""
    if isnan(boresight):
        return -1
    x = dx * east[0] + dy * east[1] + dz * east[2]
    y = dx * north[0] + dy * north[1] + dz * north[2]
    if x == 0.0 and y == 0.0:
        return -1
    off = abs(atan2(x, y) - boresight)
    if off > pi:
        off = abs(2.0 * pi - off)
    if off > pi:
        off = abs(2.0 * pi - off)
    return int(off * 180.0 / pi)


@njit(cache=True, nogil=True)
def _search(  # type: ignore[no-untyped-def]  # noqa: PLR0912, PLR0915 - one loop, kept together for its compiler
    done, receivers, first, last, order,
    link_id, own, starts, ends, mode, tx_hz, rx_hz,
    position, east, north, up_z,
    ground_known, ground_m, agl_m, vertical,
    sent_dbm, heard_db, boresight,
    tx_row, tx_lost, rx_row, rx_lost,
    fdr_values, fdr_start, fdr_low, fdr_step, fdr_steps,
    by_noise, single, summed, by_wanted,
    long_percent, short_percent, allowed_long, allowed_short,
    policy_km, spacing_km, same_site_km,
    radius, refractivity, level,
    of_link, of_own, of_position, of_hz, reach, sent, admitted, floor_values, floor_percentages, floor_frequency,
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
        link_r, own_r, reach_r, heard_hz = link_id[r], own[r], reach[r], rx_hz[r]
        x0, y0, z0 = position[r, 0], position[r, 1], position[r, 2]
        for e in range(modes):
            table, low, step, steps = fdr_start[e, s], fdr_low[e, s], fdr_step[e, s], fdr_steps[e, s]
            for place in range(first[done, e], last[done, e]):
                if of_link[place] == link_r or not (of_own[place] or own_r):
                    continue
                dx, dy, dz = (
                    of_position[place, 0] - x0,
                    of_position[place, 1] - y0,
                    of_position[place, 2] - z0,
                )
                squared = dx * dx + dy * dy + dz * dz
                if squared > policy_squared:
                    continue
                at = (of_hz[place] - heard_hz - low) / step
                k = table + min(max(int(at), 0), steps - 1)
                if at > k - table and k + 1 - table < steps and fdr_values[k + 1] < fdr_values[k]:
                    k += 1
                if sent[place] * admitted[k] * reach_r < max(squared, spacing_squared):
                    continue
                t = order[place]
                if starts[t] > ends[r] or starts[r] > ends[t]:
                    continue
                fdr = fdr_values[k]
                chord = sqrt(squared)
                f = tx_hz[t] / 1e9
                free_space = 92.4 + 20.0 * log10(f * max(chord, spacing_km))
                strongest = sent_dbm[t] + heard_db[r] - fdr + SLACK_DB
                lower = 0.0
                ground_t = 0.0
                ground_r = 0.0
                if ground_known[t] and ground_known[r]:
                    ground_t, ground_r = ground_m[t], ground_m[r]
                    lower = min(ground_t, ground_r)
                h_t, h_r = agl_m[t] + (ground_t - lower), agl_m[r] + (ground_r - lower)
                rise = abs(h_t - h_r) / 1e3
                if chord > 1.0 and rise / chord + chord / (2.0 * radius) < STEEPEST_SLOPE:
                    off = _off_boresight_bin(boresight[t], -dx, -dy, -dz, east[t], north[t])
                    if off >= 0:
                        strongest -= tx_lost[tx_row[t], off]
                    if f * 1e9 < rx_hz[r] * FREQUENCY_SLACK and f * 1e9 * FREQUENCY_SLACK > rx_hz[r]:
                        off = _off_boresight_bin(boresight[r], dx, dy, dz, east[r], north[r])
                        if off >= 0:
                            strongest -= rx_lost[rx_row[r], off]
                    if (
                        strongest - free_space + allowed_long[r] < floor_long
                        and not strongest - free_space + allowed_short[r] >= floor_short
                    ):
                        continue
                seen = level and LEAST_FREQUENCY_MHZ <= f * 1e3 <= GREATEST_FREQUENCY_MHZ
                if seen:
                    h_t, h_r = max(h_t, LEAST_HEIGHT_M), max(h_r, LEAST_HEIGHT_M)
                    of_height = int(sqrt(h_t) + sqrt(h_r))
                    if of_height < floor_values.shape[2]:
                        of_distance = int(sqrt(chord) * STEPS_PER_ROOT_KM)
                        least = floor_values[floor_percentages[r], floor_frequency[t], of_height, of_distance]
                        if strongest - least[0] < floor_long and not strongest - least[1] >= floor_short:
                            continue
                if f * 1e3 < LEAST_FREQUENCY_MHZ or f * 1e3 > GREATEST_FREQUENCY_MHZ:
                    long_db, short_db = free_space, free_space
                elif chord < 1.2 * same_site_km:
                    long_db, short_db = free_space - allowed_long[r], free_space - allowed_short[r]
                elif seen:
                    half = chord / (2.0 * EARTH_RADIUS_KM)
                    d = chord * (1.0 + half * half / 6.0 + 0.075 * half**4)
                    # Sine of the latitude half way, from the normals of the two ends.
                    apart = max(1.0 - 2.0 * half * half, 0.0)
                    middle = abs(up_z[t] + up_z[r]) / sqrt(2.0 * (1.0 + apart))
                    latitude = (
                        90.0 if middle >= 1.0 else atan2(middle, sqrt(1.0 - middle * middle)) * 180.0 / pi
                    )
                    long_db, short_db = level_ground_losses(
                        f, max(d, spacing_km), h_t, h_r,
                        long_percent[r], short_percent[r], latitude, vertical[t], radius, refractivity,
                    )  # fmt: skip
                else:
                    long_db, short_db = free_space - allowed_long[r], free_space - allowed_short[r]
                of_long, of_short = strongest - long_db, strongest - short_db
                reaches = of_short >= floor_short
                if of_long < floor_long and not reaches:
                    continue
                txs[kept] = t
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
