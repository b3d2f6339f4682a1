"""The course of a call, once, under every face: what comes next, as a card, and what can be said to it."""
