"""What the trade knows: its shape, reading it, and checking it."""
