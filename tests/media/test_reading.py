"""One door for a pasted text or an uploaded file."""

from __future__ import annotations

import base64
import gzip
import json
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.media.cards import Cid, Csd
from labcases.media.errors import NotAPage
from labcases.media.identify import Identity
from labcases.media.nvme import Controller, Namespace
from labcases.media.reading import read_any, traits_of
from labcases.media.traits import Traits

VECTORS = Path(__file__).parents[1] / "outside" / "vectors"


def cases(topic: str) -> list[dict[str, Any]]:
    return json.loads((VECTORS / f"{topic}.json").read_text(encoding="utf-8"))["cases"]


ATA = bytes.fromhex(cases("ata_identify")[0]["page_hex"])
CONTROLLER, NAMESPACE = (
    gzip.decompress(base64.b64decode(cases("nvme_identify")[number]["page_gzip_base64"])) for number in (0, 2)
)
CID, CSD = (bytes.fromhex(cases("sd_cid_csd")[number]["hex"]) for number in (0, 3))
PAGES = [(ATA, Identity), (CONTROLLER, Controller), (NAMESPACE, Namespace), (CID, Cid), (CSD, Csd)]


@pytest.mark.parametrize(("raw", "kind"), PAGES, ids=lambda value: getattr(value, "__name__", ""))
def test_a_page_is_told_by_its_size_and_content(raw: bytes, kind: type) -> None:
    record = read_any(raw)
    assert isinstance(record, kind)
    listing = "\n".join(raw[at : at + 16].hex(" ") for at in range(0, len(raw), 16))
    assert read_any(listing) == record
    assert read_any(listing.encode()) == record


@pytest.mark.parametrize(
    ("raw", "traits"),
    [
        (
            ATA,
            Traits(
                model="NORDWALD NW4000-TX", serial="NWX0A17C4", firmware="AC03", interface="SATA",
                sectors=7_814_037_168, sector_bytes=512,
            ),
        ),
        (CONTROLLER, Traits(model="LUMARIS N1 1000", serial="LN1T-0007-A42", firmware="1.0.3", interface="NVMe")),
        (NAMESPACE, Traits(interface="NVMe", sectors=1_953_525_168, sector_bytes=512)),
        (CID, Traits(model="VALB0", serial="00a1b2c3", firmware="0.5")),
        (CSD, Traits(sectors=1_921_024, sector_bytes=512)),
    ],
)  # fmt: skip
def test_a_record_becomes_traits_of_a_patient(raw: bytes, traits: Traits) -> None:
    assert traits_of(read_any(raw)) == traits


def test_a_record_without_a_name_leaves_it_unknown() -> None:
    blank = bytearray(ATA)
    blank[20:40] = b" " * 20
    assert traits_of(read_any(bytes(blank))).serial is None


@pytest.mark.parametrize("given_bytes", [b"", b"x" * 100, bytes(4096), bytes(16), ATA[:400], "no page at all"])
def test_what_is_no_page_is_refused_with_a_sentence(given_bytes: bytes | str) -> None:
    with pytest.raises(NotAPage, match=r"\.$"):
        read_any(given_bytes)


@given(st.binary(max_size=700) | st.text(max_size=700) | st.binary(min_size=16, max_size=16))
def test_nothing_raises_anything_but_the_rooms_own_error(given_bytes: bytes | str) -> None:
    with suppress(NotAPage):
        traits_of(read_any(given_bytes))
