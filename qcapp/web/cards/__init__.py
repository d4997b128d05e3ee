"""What an artisan's link opens: the own card."""
