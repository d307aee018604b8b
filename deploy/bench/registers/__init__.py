"""Invented registers of any size, the same for the same seed: as columns, and from there as rows of the database."""

from .made import made_register

__all__ = ["made_register"]
