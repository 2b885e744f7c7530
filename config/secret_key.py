"""A secret key made once for this machine, kept in a file that only its owner can read."""

import contextlib
import os
import secrets
import tempfile
from pathlib import Path


def kept_secret_key(path: Path) -> str:
    """Read the key at `path`, making it first if it is not there.

    The key is written whole under another name and then linked, so two processes that start at once agree.
    """
    if not path.exists():
        handle, draft = tempfile.mkstemp(dir=path.parent)  # made with mode 600
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secrets.token_urlsafe(64))
        with contextlib.suppress(FileExistsError):
            os.link(draft, path)
        os.unlink(draft)
    return path.read_text(encoding="ascii").strip()
