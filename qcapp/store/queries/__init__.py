"""What reports ask of the database."""
