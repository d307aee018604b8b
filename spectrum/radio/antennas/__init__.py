"""Antenna patterns and pointing.

Each pattern has a module with a function ``gain_dbi``; :mod:`spectrum.radio.antennas.gain` chooses
among them for an :class:`~spectrum.radio.antennas.gain.Antenna` and does the pointing.
"""
