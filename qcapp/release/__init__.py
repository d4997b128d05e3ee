"""Versions of the program: a signed file, unpacked beside the running one, tried, chosen."""
