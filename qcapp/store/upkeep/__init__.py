"""Backup, restore, move, audit of a database."""
