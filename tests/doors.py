"""Doors that several tests stand before."""

from __future__ import annotations

TROLLEY_DOOR = {
    "drive": "trolley",
    "construction": "sectional",
    "supply": "single-phase",
    "devices": ("photo-eye", "wall-station"),
    "fire-rated": "no",
}
