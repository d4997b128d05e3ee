"""Figures of stoves, made by the fold and remade by a rebuild."""
