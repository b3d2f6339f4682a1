"""The forms in which a document leaves the program."""

from __future__ import annotations

from collections.abc import Callable

from diagnose.calls.document import Document, html_of_document, text_of
from diagnose.calls.markdown import markdown_of
from diagnose.calls.pdf import pdf_of

# What makes each, by the ending of the file's name.
FORMS: dict[str, Callable[[Document], str | bytes]] = {
    ".html": html_of_document,
    ".pdf": pdf_of,
    ".md": markdown_of,
    ".txt": text_of,
}
