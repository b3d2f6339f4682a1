"""The frame of every HTML page that is written for people: it needs nothing beside itself and fetches nothing."""

from __future__ import annotations

import html


def web_page(title: str, style: str, body: str, *, pictures: bool = False) -> str:
    """A whole page around ``body``, which is HTML. ``pictures`` may stand in it as data."""
    images = "; img-src data:" if pictures else ""
    return _PAGE.format(title=html.escape(title), style=style, body=body.rstrip("\n"), images=images)


_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'{images}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>{style}</style>
</head>
<body>
{body}
</body>
</html>
"""
