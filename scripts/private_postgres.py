"""A PostgreSQL server for one run: its own folder, its own port on 127.0.0.1, gone afterwards.

Nothing is kept, so it is told not to wait for the disk. PostgreSQL will not run as root; there it is run as the
`postgres` user that its package makes.
"""

import contextlib
import glob
import os
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

FOLDERS = ("/usr/lib/postgresql/*/bin", "/opt/homebrew/opt/postgresql*/bin", "/usr/local/opt/postgresql*/bin")
FAST = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"


def programs() -> Path | None:
    """The folder that holds initdb and pg_ctl, the newest where there are several."""
    on_path = shutil.which("initdb")
    if on_path:
        return Path(on_path).parent
    found = [Path(name) for pattern in FOLDERS for name in glob.glob(pattern) if Path(name, "initdb").exists()]
    return max(found, key=_version, default=None)


def _version(folder: Path) -> int:
    digits = "".join(letter for letter in folder.parent.name if letter.isdecimal())
    return int(digits or 0)


def _as_its_user(command: Sequence[str]) -> list[str]:
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return ["runuser", "-u", "postgres", "--", *command] if is_root else list(command)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _call(*command: str) -> None:
    """Run one of its programs quietly; show what it said if it fails."""
    done = subprocess.run(
        _as_its_user(command), cwd="/", stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    if done.returncode:
        sys.exit(f"PostgreSQL: {Path(command[0]).name} failed: {done.stderr.decode(errors='replace').strip()}")


@contextlib.contextmanager
def server() -> Iterator[str]:
    """Start a server. Yields: a DATABASE_URL for it."""
    folder = programs()
    if folder is None:
        raise LookupError("no PostgreSQL programs on this machine")
    home = Path(tempfile.mkdtemp(prefix="bb-pg-"))
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        shutil.chown(home, "postgres", "postgres")
    port, data = _free_port(), str(home / "data")
    try:
        _call(str(folder / "initdb"), "-A", "trust", "-U", "postgres", "-E", "UTF8", "--no-sync", "-D", data)
        options = f"-p {port} -h 127.0.0.1 -k {home} {FAST}"
        _call(str(folder / "pg_ctl"), "-w", "-D", data, "-l", str(home / "log"), "-o", options, "start")
        try:
            yield f"postgres://postgres@127.0.0.1:{port}/postgres"
        finally:
            _call(str(folder / "pg_ctl"), "-w", "-D", data, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(home, ignore_errors=True)


if __name__ == "__main__":
    with server() as url, contextlib.suppress(KeyboardInterrupt):
        print(f"DATABASE_URL={url}", flush=True)
        print("Press Enter to stop it.", flush=True)
        sys.stdin.readline()
