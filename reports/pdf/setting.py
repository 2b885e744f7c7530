"""Set a paper as a PDF: tagged for screen readers, with the faces that lie beside the template and no others.

The same paper gives the same bytes, whenever and wherever it is set, so a kept hash can be checked again.
"""

import json
import re
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any, Literal

HERE = Path(__file__).resolve().parent
#: Signs that are no text, as a name typed or brought in may hold them.
NO_TEXT = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]")


def as_pdf(paper: dict[str, Any], *, on: date, template: str = "owners.typ") -> bytes:
    """Set a paper.

    Args:
        paper: the words and figures, from `words.paper` or `gate_words.paper`.
        on: the date that the document bears.
        template: the file beside this one that lays it out.
    Returns: a PDF that follows PDF/UA-1. Where a name holds a letter that none of the faces has, a box stands in its
        place, and the PDF, still tagged, does not say that it follows the standard.
    """
    import typst

    try:
        return _set(paper, on, template, "ua-1")
    except typst.TypstError as fault:
        if "could not be displayed" not in str(fault):
            raise
        return _set(paper, on, template, None)


def _set(paper: dict[str, Any], on: date, template: str, standard: Literal["ua-1"] | None) -> bytes:
    import typst

    content = typst.compile(
        str(HERE / template),
        root=str(HERE),
        font_paths=[str(HERE / "fonts")],
        ignore_system_fonts=True,
        sys_inputs={"paper": json.dumps(_plain(paper), ensure_ascii=False)},
        format="pdf",
        pdf_standards=standard,
        timestamp=datetime.combine(on, time(), tzinfo=UTC),
    )
    return bytes(content)


def _plain(value: Any) -> Any:
    """The same without signs that are no text."""
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_plain(part) for part in value]
    return NO_TEXT.sub(" ", value) if isinstance(value, str) else value
