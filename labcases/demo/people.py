"""Who is in the invented lab: nobody here ever lived.

Phone numbers are from a range that is kept for fiction, mail is at example.com.
"""

from __future__ import annotations

from typing import Any

LAB: dict[str, Any] = {
    "name": "Quayside Media Lab",
    "address": "Ropewalk Yard 4\nHarrow Quay HQ4 2ZZ",
    "phone": "0118 496 0100",
    "email": "lab@quayside.example.com",
    "tax_number": "QX 000 000 00",
    "country": "GB",
    "currency": "EUR",
    "tax_rate": 2000,
    "time_zone": "Europe/London",
    "keep_days": 14,
}

# log-in, name, password, roles
STAFF = (
    ("bram", "Bram Sundt", "tide table kettle", ("counter",)),
    ("ines", "Ines Okarra", "copper lantern drift", ("engineer",)),
    ("mara", "Mara Lindvist", "seven grey herons", ("manager", "counter")),
    ("odo", "Odo Fennick", "ledger of the harbour", ("auditor",)),
    ("solo", "Sal Oriel", "one person whole lab", ("counter", "engineer", "manager", "auditor")),
)

PLACES = (
    ("Counter", "counter"),
    ("Shelf A1", "shelf"),
    ("Shelf A2", "shelf"),
    ("Shelf B1", "shelf"),
    ("Shelf B2", "shelf"),
    ("Shelf B3", "shelf"),
    ("Bench 1", "bench"),
    ("Bench 2", "bench"),
    ("Clean bench", "clean bench"),
    ("Safe", "safe"),
)

# name, company, last six digits of the phone, address
OWNERS = (
    ("Hester Arkwell", "Marsh Lane Choir", "960201", "3 Marsh Lane\nHarrow Quay HQ1 1AA"),
    ("Orrin Vale", "", "960743", "17 Tannery Row\nHarrow Quay HQ2 3BB"),
    ("Ottoline Brack", "Brack & Daughters, Surveyors", "960318", "The Old Chandlery\nSaltmere SM3 4CC"),
    ("Teodor Ilves", "", "960455", "Flat 2, 9 Gull Street\nHarrow Quay HQ1 9DD"),
    ("Žofie Marešová", "", "960512", "Kettle Cottage\nUpper Sallow SW5 2EE"),
    ("ਹਰਜੋਤ ਕੌਰ", "", "960627", "41 Lamplight Avenue\nHarrow Quay HQ3 7FF"),
    ("Ambrose Tolley", "Tolley Boatyard", "960188", "Slip 6, The Hard\nSaltmere SM1 1GG"),
    ("मीरा सावंत", "Sawant Studio", "960834", "Loft 5, Cordage House\nHarrow Quay HQ4 8HH"),
    ("Corisande Weft", "", "960276", "2 Weaver's End\nUpper Sallow SW1 6JJ"),
    ("Jago Penhallick", "Harrow Quay Harbour Office", "960390", "Harbour Office\nHarrow Quay HQ1 0KK"),
    ("Linnet Dacre", "", "960119", "12 Orchard Steps\nSaltmere SM7 5LL"),
    ("Bastien Orvault", "Orvault Films", "960664", "Studio 3, Ice House\nHarrow Quay HQ2 2MM"),
    ("Maud Featherley", "", "960731", "The Almshouse\nUpper Sallow SW2 4NN"),
    ("Ikenna Obiora-Lusk", "Saltmere Community Archive", "960845", "The Reading Room\nSaltmere SM2 8PP"),
)

RESELLER = ("Petra Solway", "Solway Computers", "960900", "8 Market Cross\nSaltmere SM1 4QQ")

TERMS = """\
1. You say that the media are yours, or that their owner has asked you to bring them.
2. A failing medium can stop for good at any step, also when everything is done right. We never write to your data.
3. We examine first and say what we found, what may be recovered and what it costs. Nothing that you pay for, and \
nothing that cannot be undone, begins before you have said yes.
4. Opening a disk for inspection is done in clean air, and may end the maker's warranty. We do it only \
when you allow it.
5. When none of what you named as wanted is recovered, you pay the agreed parts and nothing else.
6. What we see stays with us. Copies are kept for fourteen days after handover, then erased after NIST SP 800-88.
7. Media that nobody collects are kept for ninety days after our third notice, then destroyed.
8. If the police or a court orders it, we keep the media as they are and tell you where the law lets us.
"""


def phone(digits: str) -> str:
    """E.164 in a range that is kept for fiction."""
    return f"+44118 4{digits}".replace(" ", "")


def mail(name: str, number: int) -> str:
    """An address nobody has."""
    plain = "".join(c for c in name.lower() if c.isascii() and c.isalpha()) or "owner"
    return f"{plain}{number}@example.com"
