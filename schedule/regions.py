"""Places whose public holidays are known, by name, and those holidays by name.

The names of countries are those of Unicode CLDR, the holidays those of the `holidays` library; both differ from place to place
and change by law, so pages say that they have to be checked. The library is loaded when first asked for.
"""

import re
from datetime import date
from functools import cache, lru_cache
from typing import Any

from babel import Locale

from schedule.calc import calendars

#: Countries whose parts are offered by name; the parts of others are understood by their code, such as "IT-BZ".
WITH_PARTS = ("GB", "US", "CA", "AU", "NZ", "DE", "AT", "CH", "ES", "FR", "IN")
#: Shorter names of parts are abbreviations.
SHORTEST_NAME = 4
CODE = re.compile(r"[A-Z]{2}(-[A-Z0-9]{1,4})?")


@cache
def offered() -> tuple[tuple[str, str], ...]:
    """Every place that can be chosen, as (code, "Scotland, United Kingdom"), countries first by name."""
    import holidays

    known = holidays.list_supported_countries(include_aliases=False)
    named = sorted(((code, country(code)) for code in known), key=lambda one: one[1])
    parts = [
        (f"{code}-{part}", f"{name}, {country(code)}") for code in WITH_PARTS for part, name in _parts(code, known)
    ]
    return (*named, *parts)


def _parts(code: str, known: Any) -> list[tuple[str, str]]:
    aliases = getattr(_rules(code), "subdivisions_aliases", {})
    names: dict[str, str] = {}
    for name, part in aliases.items():
        if len(name) >= SHORTEST_NAME:
            names.setdefault(part, name)
    return sorted(((part, names.get(part, part)) for part in known[code]), key=lambda one: one[1])


def _rules(code: str) -> type:
    import holidays

    return type(holidays.country_holidays(code))


def country(code: str) -> str:
    """The name of a country."""
    return str(Locale("en").territories.get(code, code))


def name_of(region: str) -> str:
    """A place in words: "Scotland" for GB-SCT, "United Kingdom" for GB."""
    found = dict(offered()).get(region)
    return found.partition(",")[0] if found else region


def label_of(region: str) -> str:
    """A place as the list offers it: "Scotland, United Kingdom (GB-SCT)"; "" for none."""
    return f"{dict(offered()).get(region, region)} ({region})" if region else ""


def understood(text: str) -> str | None:
    """The code behind what somebody typed: a code, a name, or what the list offers; "" for nothing, None where unknown."""
    folded = " ".join(text.casefold().split())
    if not folded:
        return ""
    for code, name in offered():
        if folded in {code.casefold(), name.casefold(), f"{name} ({code})".casefold()}:
            return code
    short = [code for code, name in offered() if name.partition(",")[0].casefold() == folded]
    if len(short) == 1:
        return short[0]
    typed = text.strip().upper()
    return typed if is_known(typed) else None


def is_known(code: str) -> bool:
    """Tell whether public holidays are known for a code that is written as one."""
    return CODE.fullmatch(code) is not None and calendars.knows_region(code)


@lru_cache(maxsize=256)
def named_holidays(region: str, year: int) -> tuple[tuple[date, str], ...]:
    """The public holidays of a place in one year with their names, in English where there is one."""
    import holidays

    code, _dash, part = region.partition("-")
    tongues = getattr(_rules(code), "supported_languages", ())
    tongue = next((one for one in ("en_GB", "en_US") if one in tongues), None)
    found = holidays.country_holidays(code, subdiv=part or None, years=year, language=tongue)
    return tuple(sorted((day, str(name)) for day, name in found.items() if day.year == year))
