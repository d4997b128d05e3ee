"""The lead's page of the laptop itself, and the very first page of a new yard."""
