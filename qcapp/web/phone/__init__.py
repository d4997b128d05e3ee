"""The phone: its files, and the calls by which it sends and fetches."""
