"""NVMe Identify pages against the struct layout of libnvme 1.3; the vectors say how they were read back."""

from __future__ import annotations

import base64
import gzip
import json
from pathlib import Path
from typing import Any

import pytest

from labcases.media.nvme import Controller, Namespace, NotAnNvmePage, read_controller, read_namespace

CASES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "vectors" / "nvme_identify.json").read_text(encoding="utf-8")
)["cases"]
CONTROLLERS = [case for case in CASES if "sn" in case["expect"]]
NAMESPACES = [case for case in CASES if "nsze" in case["expect"]]
REFUSED = [case for case in CASES if "reject" in case["expect"]]


def page(case: dict[str, Any]) -> bytes:
    return gzip.decompress(base64.b64decode(case["page_gzip_base64"]))


def fields(record: Controller | Namespace, wanted: dict[str, Any]) -> dict[str, Any]:
    """The record's values under the vectors' names."""
    names = {"wctemp_K": "wctemp_kelvin", "cctemp_K": "cctemp_kelvin"}
    return {key: getattr(record, names.get(key, key)) for key in wanted}


@pytest.mark.parametrize("case", CONTROLLERS, ids=lambda case: case["name"])
def test_a_controller_reads_as_the_struct_reads_it(case: dict[str, Any]) -> None:
    assert fields(read_controller(page(case)), case["expect"]) == case["expect"]


@pytest.mark.parametrize("case", CONTROLLERS, ids=lambda case: case["name"])
def test_the_small_numbers_of_a_controller_read_as_the_struct_reads_them(case: dict[str, Any]) -> None:
    record, dump = read_controller(page(case)), case["libnvme_struct_dump"]
    assert (record.ssvid, record.cntlid) == (dump["ssvid"], dump["cntlid"])
    assert record.volatile_write_cache == bool(dump["vwc"] & 1)


@pytest.mark.parametrize("case", NAMESPACES, ids=lambda case: case["name"])
def test_a_namespace_reads_as_the_struct_reads_it(case: dict[str, Any]) -> None:
    record = read_namespace(page(case))
    assert fields(record, case["expect"]) == case["expect"]
    assert record.nvmcap_bytes == int.from_bytes(bytes.fromhex(case["libnvme_struct_dump"]["nvmcap_le"]), "little")


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["name"])
def test_a_short_page_is_refused(case: dict[str, Any]) -> None:
    with pytest.raises(NotAnNvmePage, match="4095"):
        read_controller(page(case))
