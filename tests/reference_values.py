"""Published and textbook values to check against; each entry of the files names its source."""

import json
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "reference"


@cache
def _file(topic: str) -> dict[str, dict[str, Any]]:
    return {item["id"]: item for item in json.loads((FOLDER / f"{topic}.json").read_text("utf-8"))["items"]}


def reference(topic: str, id_: str) -> dict[str, Any]:
    """One entry: its `inputs`, what is `expected`, and its `source`."""
    return _file(topic)[id_]
