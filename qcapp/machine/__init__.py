"""What the laptop offers: its addresses, sticks, and starting when its owner signs in."""
