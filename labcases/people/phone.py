"""Phone numbers as E.164, read the way people write them.

>>> read("0118 496 0743", "GB")
'+441184960743'
>>> shown("+441184960743", "GB")
'0118 496 0743'
"""

from __future__ import annotations

import phonenumbers


class NotAPhone(ValueError):
    """The text is no phone number we can read; ``str(error)`` is a sentence."""


def read(text: str, country: str) -> str:
    """E.164 for a number typed in ``country`` (ISO 3166-1, two letters). Raises NotAPhone.

    Possible numbers are taken even when no carrier uses the range yet: the counter
    must be able to note what it is told.
    """
    try:
        number = phonenumbers.parse(text, country)
    except phonenumbers.NumberParseException:
        raise NotAPhone(
            f"“{text}” is no phone number. Write it with its area, or with + and the country in front."
        ) from None
    if not phonenumbers.is_possible_number(number):
        raise NotAPhone(
            f"“{text}” is too short or too long for a phone number. With + and the country in front it is sure."
        )
    return phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)


def extension(text: str, country: str) -> str:
    """The extension in a readable number, which E.164 has no place for; empty when there is none."""
    return phonenumbers.parse(text, country).extension or ""


def shown(e164: str, country: str) -> str:
    """As people in ``country`` write it; unreadable numbers come back as they are."""
    try:
        number = phonenumbers.parse(e164, None)
    except phonenumbers.NumberParseException:
        return e164
    here = phonenumbers.region_code_for_number(number) == country
    form = phonenumbers.PhoneNumberFormat.NATIONAL if here else phonenumbers.PhoneNumberFormat.INTERNATIONAL
    return phonenumbers.format_number(number, form)
