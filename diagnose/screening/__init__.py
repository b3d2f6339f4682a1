"""The phone side: danger first, what a caller can safely say, and what is to be sent."""
