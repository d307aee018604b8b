"""Emission designators (RR Appendix 1): read, write, explain, compare. No framework, no files."""

from licences.emissions.comparison import EmissionComparison, permits
from licences.emissions.designator import (
    EmissionDesignator,
    EmissionFormatError,
    bandwidth_code,
    bandwidth_hz,
    explain,
    parse,
    width_in_words,
)

__all__ = [
    "EmissionComparison",
    "EmissionDesignator",
    "EmissionFormatError",
    "bandwidth_code",
    "bandwidth_hz",
    "explain",
    "parse",
    "permits",
    "width_in_words",
]
