"""Doors that are broken on purpose: simulated, practised on, and used to measure the program itself."""
