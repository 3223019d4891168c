"""Spoken service narrations to structured, checked service reports, offline."""

__version__ = "0.1.0"
