"""The lead's pages of batches."""
