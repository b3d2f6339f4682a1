"""The two themes: one for the sun on the screen, one for the dark."""

from __future__ import annotations

from textual.theme import Theme

# Full contrast both ways: the sun on the screen, and the dark behind a rolling door.
THEMES = (
    Theme(
        name="night",
        primary="#5fafff",
        accent="#5fd7ff",
        warning="#ffaf00",
        error="#ff6b6b",
        success="#5fdf5f",
        foreground="#ffffff",
        background="#000000",
        surface="#000000",
        panel="#303030",
        dark=True,
    ),
    Theme(
        name="day",
        primary="#003f8f",
        warning="#7a4a00",
        error="#a00000",
        success="#005f00",
        foreground="#000000",
        background="#ffffff",
        surface="#ffffff",
        panel="#dcdcdc",
        dark=False,
    ),
)
