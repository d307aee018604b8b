"""Screening a regulator's extract: how many transmitters lie near how many receivers, before any radio check.

An extract that states no power, antenna, height or width cannot be checked for
interference; what can be counted in it is geometry and frequency. The counts say
how much a check will have to look at, and serve to compare two programs.
"""

from .counting import Group, Paths, Screening, screen

__all__ = ["Group", "Paths", "Screening", "screen"]
