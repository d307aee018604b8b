"""Coordinates of the larger pictures: pure, in the units of their picture; the templates put them into SVG.

Every picture is 560 units wide. Words are placed as if each letter were as wide as on a narrow screen, so that
what does not overlap there does not overlap anywhere.
"""
