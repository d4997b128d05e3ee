"""Arithmetic only: numbers in, frozen results out; no clock, no random, no file but the plan
tables.

Every function names its source; every result of more than one number is a frozen dataclass.
Rates are fractions (0 to 1), levels are two-sided confidence levels (0.95) unless said otherwise.
"""
