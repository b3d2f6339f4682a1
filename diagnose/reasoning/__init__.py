"""How likely, what next, what to repair: pure functions over arrays. No files, no clock, no screen."""
