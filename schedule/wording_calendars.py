"""Calendars in words: "Monday to Friday, without the public holidays of Scotland"."""

from datetime import date

from babel import Locale
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import display
from schedule import regions
from schedule.calc.calendars import Calendar
from schedule.calc.rests import Closed

ISO_SUNDAY = 7


def weekday(number: int, locale: str) -> str:
    """The name of an ISO weekday, 1 to 7."""
    return str(display.locale_of(locale).days["stand-alone"]["wide"][number - 1])


def weekdays(found: frozenset[int], locale: str) -> str:
    """Weekdays as people say them: "Monday to Friday", "Tuesday and Thursday", "every day"."""
    days = sorted(found)
    if len(days) == ISO_SUNDAY:
        return _("every day")
    names = [weekday(day, locale) for day in days]
    in_a_row = len(days) > 2 and days[-1] - days[0] == len(days) - 1
    if in_a_row:
        return _("%(first)s to %(last)s") % {"first": names[0], "last": names[-1]}
    if len(names) == 1:
        return names[0]
    return _("%(list)s and %(last)s") % {"list": ", ".join(names[:-1]), "last": names[-1]}


def rules(calendar: Calendar, locale: str) -> str:
    """What a calendar works, less public holidays; closures are told apart."""
    days = weekdays(calendar.weekdays, locale)
    if not calendar.region:
        return days
    return _("%(days)s, without the public holidays of %(place)s") % {"days": days, "place": place(calendar.region)}


def place(region: str) -> str:
    """A place as it stands in a sentence: "the United States", "Scotland"."""
    name = regions.name_of(region)
    return _("the %s") % name if name in _WITH_ARTICLE else name


def closure(found: Closed, locale: str) -> str:
    """Mon 21 Dec 2026 to Sun 3 Jan 2027: new year."""
    first, last, why = found
    days = span(first, last, locale)
    return f"{days}: {why}" if why else days


def span(first: date, last: date, locale: str) -> str:
    """Days as "Fri 28 May 2027", or "Fri 28 May 2027 to Sun 30 May 2027"."""
    if first == last:
        return display.day(first, locale)
    return _("%(first)s to %(last)s") % {"first": display.day(first, locale), "last": display.day(last, locale)}


def users(count: int) -> str:
    """How many activities work by a calendar."""
    if not count:
        return _("nothing names it")
    return ngettext("%(n)d activity names it", "%(n)d activities name it", count) % {"n": count}


#: Countries whose English names bear an article in a sentence.
_WITH_ARTICLE = {
    Locale("en").territories[code]
    for code in ("US", "GB", "NL", "PH", "AE", "BS", "MV", "DO", "CF", "KY", "FO", "MH", "SB", "CK")
}
