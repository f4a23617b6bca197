"""Money: whole minor units and an ISO 4217 code, never a fraction and never a float.

>>> deposit = Money(parse_amount("1 234,50", "EUR"), "EUR")
>>> (deposit * 2 - Money(1, "EUR")).words()
'2,468.99 EUR'
>>> allocate(1000, [1, 1, 1])
[334, 333, 333]
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

# ISO 4217 list one: how many digits the minor unit has. Written from memory of the list and found equal, code by
# code, to PyPI iso4217 1.16.20260101. Metals, funds without a minor unit and the test code are left out.
_CODES: Final = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    2: """
        AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE CHF
        CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL
        HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU
        MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR
        SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD USN UYU UZS VED
        VES WST XAD XCD XCG YER ZAR ZMW ZWG
    """,
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
_MINOR_DIGITS: Final = {code: digits for digits, codes in _CODES.items() for code in codes.split()}

LARGEST: Final = 2**53 - 1  # minor units; what JSON and every database hold exactly


class NotAnAmount(ValueError):
    """A text is no amount of the currency; ``str(error)`` is a sentence for the person who typed it."""


class CurrencyMismatch(ValueError):
    """Two currencies were added or compared."""


def minor_digits(currency: str) -> int:
    """How many decimals amounts of an ISO 4217 currency have. Raises ValueError for a code that is none."""
    try:
        return _MINOR_DIGITS[currency]
    except KeyError:
        raise ValueError(f"{currency!r} is no ISO 4217 currency with a minor unit; write it like EUR.") from None


def currencies() -> list[str]:
    """The codes money can be in, in alphabetical order."""
    return sorted(_MINOR_DIGITS)


@dataclass(frozen=True)
class Money:
    """An amount in whole minor units of a currency. Adds and compares within one currency only."""

    amount_minor: int
    currency: str

    def __post_init__(self) -> None:
        minor_digits(self.currency)
        if type(self.amount_minor) is not int:
            raise TypeError(f"Money counts whole minor units, not {self.amount_minor!r}.")

    def __add__(self, other: Money) -> Money:
        return Money(self.amount_minor + self._same(other), self.currency)

    def __sub__(self, other: Money) -> Money:
        return Money(self.amount_minor - self._same(other), self.currency)

    def __neg__(self) -> Money:
        return Money(-self.amount_minor, self.currency)

    def __mul__(self, times: int) -> Money:
        return Money(self.amount_minor * times, self.currency)

    __rmul__ = __mul__

    def __lt__(self, other: Money) -> bool:
        return self.amount_minor < self._same(other)

    def __le__(self, other: Money) -> bool:
        return self.amount_minor <= self._same(other)

    def __gt__(self, other: Money) -> bool:
        return self.amount_minor > self._same(other)

    def __ge__(self, other: Money) -> bool:
        return self.amount_minor >= self._same(other)

    def plain(self) -> str:
        """The number alone as a form or a CSV holds it: ``1234.50``."""
        return _written(self.amount_minor, minor_digits(self.currency), "")

    def words(self) -> str:
        """The amount as a person reads it: ``1,234.50 EUR``."""
        return f"{_written(self.amount_minor, minor_digits(self.currency), ',')} {self.currency}"

    def _same(self, other: Money) -> int:
        if self.currency != other.currency:
            raise CurrencyMismatch(f"{self.words()} and {other.words()} are different currencies.")
        return other.amount_minor


def allocate(total: int, weights: Sequence[int]) -> list[int]:
    """Share minor units by weight so that the shares add up exactly: the method of largest remainders.

    Each gets the whole part of its exact share; the units left over go one each to the largest remainders, of
    equal ones to the first. A negative total is shared like its opposite. Raises ValueError for a negative
    weight, or when there is something to share and no weight.
    """
    whole = sum(weights)
    if any(weight < 0 for weight in weights) or (total and not whole):
        raise ValueError(f"{total} cannot be shared by the weights {list(weights)}.")
    if not total:
        return [0] * len(weights)
    sign, amount = (1, total) if total > 0 else (-1, -total)
    shares = [amount * weight // whole for weight in weights]
    by_remainder = sorted(range(len(weights)), key=lambda i: -(amount * weights[i] % whole))
    for i in by_remainder[: amount - sum(shares)]:
        shares[i] += 1
    return [sign * share for share in shares]


_SPELLINGS = str.maketrans({"\N{RIGHT SINGLE QUOTATION MARK}": "'", "\N{MINUS SIGN}": "-"})
_PLAIN = re.compile(r"(?P<whole>\d*)(?:[.,](?P<decimals>\d+))?", re.ASCII)
_GROUPED = re.compile(
    r"(?P<whole>[1-9]\d{0,2}(?P<mark>[ .,'])\d{3}(?:(?P=mark)\d{3})*)(?:(?!(?P=mark))[.,](?P<decimals>\d+))?", re.ASCII
)


def parse_amount(text: str, currency: str) -> int:
    """Minor units of an amount as people type it: ``1234.5``, ``1,234.50``, ``1 234,50``, ``1'234'567``, ``EUR 5``.

    Point or comma may stand before the decimals; blanks, apostrophes and the other of the two may group
    thousands; the code of the currency may stand before or behind. What can be read in two ways (``1.234`` in a
    currency of two decimals, ``1,234`` in one of three) is refused, and so is one decimal too many. Raises
    NotAnAmount.
    """
    typed = " ".join(text.translate(_SPELLINGS).split())
    number = typed.upper().removeprefix(currency).removesuffix(currency).strip()
    negative, number = number.startswith("-"), number.removeprefix("-").strip()
    whole, decimals = _whole_and_decimals(number, minor_digits(currency), typed[:40])
    written = (whole + decimals).lstrip("0") or "0"
    if len(written) > len(str(LARGEST)) or (amount := int(written)) > LARGEST:
        raise NotAnAmount(f"“{typed[:40]}” is larger than any amount of money can be here.")
    return -amount if negative else amount


def _whole_and_decimals(number: str, digits: int, typed: str) -> tuple[str, str]:
    """The digits before the point, and exactly ``digits`` behind it."""
    plain, grouped = _PLAIN.fullmatch(number), _GROUPED.fullmatch(number)
    if digits >= 3 and grouped and grouped["mark"] == "." and plain:
        grouped = None  # a point before three decimals is how we write these currencies ourselves
    if plain and grouped and digits:
        bare = re.sub("[.,]", "", number)
        other = f"or {number.replace(',', '.')} with a point" if digits >= 3 else f"decimals have {digits} digits"
        raise NotAnAmount(f"“{typed}” can be read in two ways. Write {bare} for thousands; {other}.")
    match = grouped or plain
    if not number or not match:
        raise NotAnAmount(f"“{typed}” is no amount of money. Write it like {_written(123450, digits, '')}.")
    decimals = match["decimals"] or ""
    if len(decimals) > digits:
        allowed = f"at most {digits} decimals" if digits else "no decimals"
        raise NotAnAmount(f"“{typed}” has {len(decimals)} decimals; this currency has {allowed}.")
    return re.sub(r"\D", "", match["whole"]) or "0", decimals.ljust(digits, "0")


def _written(amount: int, digits: int, mark: str) -> str:
    """An amount with all its decimals, ``mark`` between thousands."""
    whole, part = divmod(abs(amount), 10**digits)
    decimals = f".{part:0{digits}d}" if digits else ""
    return f"{'-' if amount < 0 else ''}{whole:,}".replace(",", mark) + decimals
