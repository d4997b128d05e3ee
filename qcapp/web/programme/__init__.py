"""The page of who leads several yards."""
