"""Offline quality control for hand-made ceramic-lined charcoal stoves."""

__version__ = "0.1.0"
