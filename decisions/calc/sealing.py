"""The seal of a record: its content as canonical text, and a hash over that text."""

import hashlib
import json
from collections.abc import Mapping


def canonical(content: Mapping[str, object]) -> str:
    """Write content so that equal content has equal text.

    Returns: JSON with sorted keys, no spare spaces, letters as they are.
    Source: our rule, in the spirit of RFC 8785; amounts are whole numbers or strings, so no float is written.

    >>> canonical({"b": 1, "a": "£"})
    '{"a":"£","b":1}'
    """
    return json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def hash_of(text: str) -> str:
    """Seal a text.

    Returns: SHA-256 of its UTF-8 bytes, in 64 hexadecimal digits.
    Source: FIPS 180-4.

    >>> hash_of("")[:8]
    'e3b0c442'
    """
    return hashlib.sha256(text.encode()).hexdigest()
