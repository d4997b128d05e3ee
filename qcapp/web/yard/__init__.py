"""The yard lead's pages of the yard itself."""
