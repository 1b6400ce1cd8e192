"""Money as people write it: whole cents of one ISO 4217 currency, read and spoken."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

from kb.base.trouble import Refusal
from kb.base.worded import worded

#: Digits behind the point where they are not two (ISO 4217, list one, from memory).
_WHOLE = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF"
_THOUSANDTHS = "BHD IQD JOD KWD LYD OMR TND"
DIGITS = dict.fromkeys(_WHOLE.split(), 0) | dict.fromkeys(_THOUSANDTHS.split(), 3)


def is_currency(code: str) -> bool:
    """Whether it is written as a code of ISO 4217: three capital letters."""
    return re.fullmatch("[A-Z]{3}", code) is not None


def spoken(cents: int, currency: str = "") -> str:
    """A sum as it is shown; without a currency the smallest unit is taken for a hundredth.

    >>> spoken(86401, "EUR"), spoken(-5), spoken(1200, "JPY"), spoken(1234567, "KWD")
    ('864.01 EUR', '-0.05', '1200 JPY', '1234.567 KWD')
    """
    digits = DIGITS.get(currency, 2)
    whole, rest = divmod(abs(cents), 10**digits)
    figure = f"{whole}.{rest:0{digits}}" if digits else str(whole)
    return f"{'-' if cents < 0 else ''}{figure}{f' {currency}' if currency else ''}"


def cents_of(text: str, currency: str = "") -> int:
    """The smallest units of a sum as a person writes it, with a point or a comma before the last digits.

    Refusal for anything else, and for more digits than the currency has.

    >>> cents_of("864.01"), cents_of("15"), cents_of("12,5"), cents_of("1200", "JPY")
    (86401, 1500, 1250, 1200)
    """
    digits = DIGITS.get(currency, 2)
    plain = text.strip().removesuffix(currency).strip().replace(",", ".")
    try:
        scaled = (
            Decimal(plain).scaleb(digits)
            if re.fullmatch(r"-?[0-9]{1,12}(\.[0-9]+)?", plain)
            else None
        )
    except InvalidOperation:
        scaled = None
    if scaled is None or scaled != scaled.to_integral_value():
        like = spoken(123400, currency)
        raise Refusal(
            worded(
                "`{text}` is no sum of money; write it as {like}",
                text=text.strip()[:40],
                like=like,
            )
        )
    return int(scaled)
