"""The review of trees: what an author can be told once their numbers are weighed. Nothing of the interview needs it."""
