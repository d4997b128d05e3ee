"""The trainer's pages."""
