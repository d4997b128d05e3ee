"""One stove on its whole way, for those who lead and teach the yard."""
