"""Messages, their translations, numbers and days."""
