"""What happened at counter and office of the invented lab beside its cases."""

from __future__ import annotations

from typing import Any

# days ago, whether it was refused, what was said
ENQUIRIES: tuple[tuple[int, bool, dict[str, Any]], ...] = (
    (
        2,
        False,
        {
            "name": "Rosalind Tew",
            "reach": "0118 496 0777",
            "kind": "disk35",
            "asked": "A disk that hums and is not seen. Accounts of a small firm.",
            "advice": "Leave it off. Do not open, freeze or knock it. Pack it padded.",
            "price_from": 18_000,
            "price_to": 70_000,
        },
    ),
    (
        5,
        True,
        {
            "name": "A man with a box of tablets",
            "kind": "phone",
            "asked": "Wanted the codes taken off.",
            "reason": "Could not say whose they are.",
        },
    ),
)

PAD_SHEETS = 8
SPOILT = "Coffee over it before anything was written."

# One customer under two names, and two records that may be one: name, company, last digits of the phone, address.
WROTE_HERSELF = ("C. Weft", "", "960276", "2 Weavers End\nUpper Sallow SW1 6JJ")
MERGED_BECAUSE = "Same number, same house; she said so on the phone."
LIKELY_TWIN = ("Orvault Films, accounts", "Orvault Films", "960664", "Studio 3, Ice House\nHarrow Quay HQ2 2MM")

OLD_RECORDS = """\
Job;Client;Tel;Date in;Date out;Type;Make;Model;Serial number;Problem;Outcome
OLD-0412;Ambrose Tolley;0118 496 0188;2024-03-11;2024-03-29;3.5\u2033 disk;Corvane;CT1000;CW20117744;clicks;all drawings
OLD-0413;Maud Featherley;0118 496 0731;2024-03-14;2024-03-15;memory card;;Stub 16;;deleted photographs;all but six
OLD-0419;Silas Henny;0118 496 0951;2024-04-02;2024-05-20;2.5\u2033 disk;Orlane;OS750;OW30021955;dropped;nothing
OLD-0431;Saltmere Rowing Club;0118 496 0952;2024-06-18;2024-06-21;stick;;Stub 32;;bent plug;everything
OLD-0440;Brack & Daughters;0118 496 0318;2024-09-03;2024-09-24;3.5\u2033 disk;Corvane;CS4000;CW80440019;surge;everything
"""

COMPUTERS = (
    ("Bench machine 1", ("steps", "readings", "coverage", "files", "plan"), ""),
    ("Bench machine 2", ("readings", "coverage"), ""),
    ("Laptop of the summer", ("readings",), "Went back to its owner."),
)

# case, to, subject, body: an address that nobody has
BOUNCED = (
    "workshop",
    "orrin.vale@nobody.example.com",
    "A question about your disk",
    "Dear Orrin Vale,\n\nmay we go on with the heads of a donor? Without a word from you nothing is done.\n\n"
    "Quayside Media Lab",
)
CALLED: dict[str, Any] = {
    "channel": "phone",
    "incoming": False,
    "with_whom": "Orrin Vale",
    "body": "The mail came back. He spells it without the dot; he will think about the donor until Monday.",
    "agreed": "We wait until Monday.",
}
