"""What a buyer's link opens: a signed summary, never a maker."""
