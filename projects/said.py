"""What a page says after a deed: one sentence, and a way to take it back where the ledger allows it."""

from django.contrib import messages
from django.contrib.messages.storage.base import Message
from django.http import HttpRequest

_MARK = "undo:"


def done(request: HttpRequest, sentence: str, *, undo: str = "") -> None:
    """Say what was done on the next page.

    Args:
        sentence: "The likely final of Tank frame moved from £49,950 to £37,450."
        undo: address inside this program that takes the deed back when it is posted to, or "".
    """
    messages.success(request, sentence, extra_tags=f"{_MARK}{undo}" if undo else "")


def watch_out(request: HttpRequest, sentence: str) -> None:
    """Say something that was let through but needs a person."""
    messages.warning(request, sentence)


def refused(request: HttpRequest, sentence: str) -> None:
    """Say why nothing was done."""
    messages.error(request, sentence)


def undo_of(message: Message) -> str:
    """The address behind a message's undo; only a path of this program counts, never another site."""
    tags = message.extra_tags or ""
    path = tags.removeprefix(_MARK) if tags.startswith(_MARK) else ""
    return path if path.startswith("/") and not path.startswith("//") and "\\" not in path else ""
