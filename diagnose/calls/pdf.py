"""A document as PDF, set by Typst, which is imported here and nowhere else.

The document goes in as data, so that nothing in it can be read as markup; ``document.typ`` says how it looks.
"""

from __future__ import annotations

from pathlib import Path

import msgspec

from diagnose.calls.document import Document

_TEMPLATE = Path(__file__).with_name("document.typ")


class PdfError(ValueError):
    """The document cannot be set; ``str`` says why and what to do."""


def pdf_of(document: Document) -> bytes:
    """The document as the bytes of a PDF file; the same document gives the same bytes. Raises ``PdfError``."""
    import typst

    bare = msgspec.structs.replace(document, logo=None)
    given = {"document": msgspec.json.encode(bare).decode()}
    if document.logo is not None:
        given |= {"logo": msgspec.json.encode(list(document.logo.data)).decode(), "kind": document.logo.kind}
    try:
        made = typst.compile(_TEMPLATE.read_bytes(), sys_inputs=given, timestamp=0)
    except (RuntimeError, ValueError) as error:
        said = str(error).strip().splitlines()[0] if str(error).strip() else "no reason given"
        advice = " Is the logo in the settings a sound picture?" if document.logo is not None else ""
        raise PdfError(f"The PDF cannot be made: {said}.{advice}") from None
    assert isinstance(made, bytes)
    return made
