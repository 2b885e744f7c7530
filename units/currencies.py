"""The currencies of ISO 4217 and how many digits each has after the point.

Only currencies that are money today are listed; the standard's test codes, precious metals and accounting units of
banks are left out, because no quote is written in them.
"""

from collections.abc import Mapping
from types import MappingProxyType

_NO_DIGITS = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF"
_THREE_DIGITS = "BHD IQD JOD KWD LYD OMR TND"
_FOUR_DIGITS = "CLF UYW"
_TWO_DIGITS = """
    AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD
    CAD CDF CHE CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP
    GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT
    LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN
    NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP
    STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD USN UYU UZS VED VES WST XCD XCG YER ZAR ZMW ZWG
"""


def _table() -> dict[str, int]:
    rows = ((_NO_DIGITS, 0), (_TWO_DIGITS, 2), (_THREE_DIGITS, 3), (_FOUR_DIGITS, 4))
    return dict(sorted((code, digits) for codes, digits in rows for code in codes.split()))


#: {code: digits after the point}, in the order of the codes.
CURRENCIES: Mapping[str, int] = MappingProxyType(_table())
