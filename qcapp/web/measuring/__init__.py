"""Pages about how well the yard measures and judges: limits, studies of agreement, pace.

A room of its own: they share studies, sheets of looks and their questions with each other, and
with the yard's pages of people, batches and phones nothing.
"""
