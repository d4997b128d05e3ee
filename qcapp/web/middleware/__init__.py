"""What every request passes, the same on every route."""
