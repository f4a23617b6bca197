"""What we print, read back from pixels by zxing-cpp 3.1.1, a decoder independent of what draws the symbols.

Sources: ISO/IEC 18004 (QR) and ISO/IEC 15417 (Code 128) through that decoder; vectors/qr.json and
vectors/code128.json. The texts of the standards were not seen. 300 dpi is a common office printer; the same page at
70 % of its size, looked at with the same 300 dpi, has 210 pixels where an inch was.
"""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from labcases.core.codes import printed, symbol, with_check
from labcases.lab.symbols import code128_modules, code128_svg, qr_matrix, qr_svg, svg_data_uri
from labcases.paper import labels, papers, render
from tests.paper.sample import ISSUED, LAB, Sample

pytestmark = pytest.mark.django_db  # papers carry the ledger's key
VECTORS = Path(__file__).parent / "vectors"
QR = json.loads((VECTORS / "qr.json").read_text(encoding="utf-8"))["cases"]
BARS = json.loads((VECTORS / "code128.json").read_text(encoding="utf-8"))["cases"]
FULL, AT_70_PERCENT = 300, 210
BODIES = [*(f"2600417P{n}" for n in range(1, 9)), "2600417", "2600417A12", "2600417P12C3", "D00017P2", "26123456P10C2"]


def seen(pdf: bytes, folder: Path, dpi: int) -> list[set[tuple[str, str]]]:
    """What the decoder reads on each page: kind of symbol and text."""
    (folder / "paper.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", str(folder / "paper.pdf"), str(folder / "page")], check=True)
    pages = []
    for picture in sorted(folder.glob("page*.pgm")):
        with Image.open(picture) as page:
            pages.append({(str(found.format), found.text) for found in zxingcpp.read_barcodes(page)})
    return pages


def page_of(*svgs: str) -> bytes:
    pictures = "".join(f'<p><img class="one" alt="symbol" src="{svg_data_uri(svg)}">' for svg in svgs)
    css = "@page { size: A4 } .one { width: 55mm; max-height: 22mm }"
    return render.to_pdf(f'<html lang="en"><title>Symbols</title>{pictures}', issued=ISSUED, css=css)


@pytest.mark.parametrize("dpi", [FULL, AT_70_PERCENT])
@pytest.mark.parametrize("case", QR, ids=lambda case: case["text"][:12])
def test_a_decoder_reads_our_qr_symbol(case: dict[str, str], dpi: int, tmp_path: Path) -> None:
    assert seen(page_of(qr_svg(case["text"])), tmp_path, dpi) == [{("QR Code", case["text"])}]


@pytest.mark.parametrize("case", QR, ids=lambda case: case["text"][:12])
def test_our_qr_symbol_has_the_size_of_the_vector(case: dict[str, int | str]) -> None:
    assert len(qr_matrix(str(case["text"]))) == case["modules"]


@pytest.mark.parametrize("dpi", [FULL, AT_70_PERCENT])
@pytest.mark.parametrize("case", BARS, ids=lambda case: case["text"])
def test_a_decoder_reads_our_code_128_symbol(case: dict[str, str], dpi: int, tmp_path: Path) -> None:
    assert seen(page_of(code128_svg(case["text"])), tmp_path, dpi) == [{("Code 128", case["text"])}]


@pytest.mark.parametrize("case", [case for case in BARS if "total_modules" in case], ids=lambda case: case["text"])
def test_our_code_128_symbol_is_at_most_a_character_longer_than_that_of_another_encoder(
    case: dict[str, int | str],
) -> None:
    """The choice of code sets is free; each character is eleven modules."""
    assert len(code128_modules(str(case["text"]))) <= int(case["total_modules"]) + 11


@pytest.mark.parametrize("dpi", [FULL, AT_70_PERCENT])
@pytest.mark.parametrize("size", labels.SIZES.values(), ids=labels.SIZES)
def test_every_label_is_read_in_full_size_and_at_70_percent(
    size: labels.LabelSize, dpi: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(papers.Profile, "current", lambda: LAB)
    codes = [with_check(body) for body in BODIES]
    many = [labels.Label(printed(code), symbol(code), "Marsh Lane Choir", "2.5″ disk") for code in codes]
    pdf = papers.label_sheet(many, size, title="Labels", language="en", issued=ISSUED)
    expected = {(kind, symbol(code)) for code in codes for kind in ("QR Code", "Code 128")}
    assert set().union(*seen(pdf, tmp_path, dpi)) == expected


@pytest.mark.parametrize("dpi", [FULL, AT_70_PERCENT])
def test_the_symbol_in_the_head_is_read_on_every_page(settings: object, dpi: int, tmp_path: Path) -> None:
    engine = settings.TEMPLATES[0]  # type: ignore[attr-defined]
    folder = Path(__file__).parents[1] / "paper" / "templates"
    settings.TEMPLATES = [{**engine, "DIRS": [*engine["DIRS"], folder]}]  # type: ignore[attr-defined]
    sample = Sample({"table": papers.capped([(f"Folder {n}", n) for n in range(60)])})
    pages = seen(papers.render(**sample.call), tmp_path, dpi)
    assert len(pages) > 2
    assert all(page == {("QR Code", "LC2600417D")} for page in pages)
