"""What a service says when it will not do what was asked: one message, the place, the mend."""

from collections.abc import Mapping


class Refused(Exception):
    """The deed breaks a rule; nothing was written.

    Args:
        message: one sentence that says what is wrong and how to mend it.
        field: the form field or place it belongs to, or "" for the whole.
    """

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.message = str(message)
        self.field = field


class Stale(Refused):
    """Somebody else saved the same thing first.

    Args:
        message: who saved it and when.
        theirs: what stands now, {field: value}, so that a page can show both.
    """

    def __init__(self, message: str, *, theirs: Mapping[str, object] | None = None) -> None:
        super().__init__(message)
        self.theirs = dict(theirs or {})
