"""Text in lines for a terminal or a printout."""

from __future__ import annotations

from textwrap import wrap

WIDTH = 88


def wrapped(text: str, indent: int = 0, hang: int = 0) -> list[str]:
    """A text in lines of at most :data:`WIDTH` letters, further lines set in by so many more; none for no text.

    Words with a hyphen stay whole, so that a page number or a range can be found again.
    """
    if not text:
        return []
    further = " " * (indent + hang)
    return wrap(text, WIDTH, initial_indent=" " * indent, subsequent_indent=further, break_on_hyphens=False)
