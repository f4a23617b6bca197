from __future__ import annotations

import hashlib
import re
import subprocess
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta, timezone
from io import BytesIO
from pathlib import Path
from threading import Lock
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import pikepdf
import pytest
import time_machine
import weasyprint
from PIL import Image

from labcases.core import vault
from labcases.core.codes import MistypedCode
from labcases.paper import papers, render
from labcases.paper.papers import Attached
from tests.paper.sample import CODE, ISSUED, LAB, Sample, photograph

ATTACHED = (Attached("wanted.csv", b"folder,sectors\n", "Everything wanted"),)


def printed(context: dict[str, Any] | None = None, **changes: Any) -> bytes:
    return papers.render(**{**Sample(context or {}).call, **changes})


def asked(tool: str, pdf: bytes, folder: Path, *options: str) -> str:
    """What a tool of poppler or qpdf says of the file."""
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    run = subprocess.run([tool, *options, str(path)], capture_output=True, check=True)
    return run.stdout.decode()


def words(pdf: bytes, folder: Path) -> list[str]:
    """The text of each page, as poppler reads it."""
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    run = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True)
    return run.stdout.decode().split("\f")[:-1]


# --- the file -------------------------------------------------------------------------------------------------------


def test_a_paper_says_that_it_is_built_to_pdf_a_3a() -> None:
    """Markers after ISO 19005-3 (from memory): part 3, conformance A, an output intent. No validator is at hand."""
    with pikepdf.open(BytesIO(printed(attachments=ATTACHED))) as pdf:
        with pdf.open_metadata() as about:
            assert (about["pdfaid:part"], about["pdfaid:conformance"]) == ("3", "A")
        assert pdf.Root.OutputIntents[0].S == "/GTS_PDFA1"
        assert pdf.Root.AF[0].AFRelationship == "/Data"


def test_a_paper_is_tagged_and_shows_its_title_and_language() -> None:
    with pikepdf.open(BytesIO(printed())) as pdf:
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.Root.Lang) == "en-GB"
        assert pdf.Root.ViewerPreferences.DisplayDocTitle
        assert str(pdf.docinfo.Title) == f"Intake form and receipt {CODE}"


def test_headings_tables_and_pictures_are_told_to_a_screen_reader(tmp_path: Path) -> None:
    digest = vault.put(photograph(1, (200, 150)))
    photo = {"digest": digest, "alt": "Dented corner of the drive", "caption": ""}
    structure = asked("pdfinfo", printed({"photos": [photo]}), tmp_path, "-struct")
    assert {"H1", "H2", "Table", "TH", "TD", "Figure"} <= set(re.findall(r"^\s*(\w+)", structure, re.MULTILINE))
    with pikepdf.open(tmp_path / "paper.pdf") as pdf:
        alts = {str(thing.Alt) for thing in pdf.objects if isinstance(thing, pikepdf.Dictionary) and "/Alt" in thing}
    assert {"Dented corner of the drive", f"QR symbol of {CODE}"} <= alts


def test_every_font_is_embedded_and_vendored(tmp_path: Path) -> None:
    rows = asked("pdffonts", printed(), tmp_path).splitlines()[2:]
    assert len(rows) > 8  # four scripts, two weights, the monospace, the marks
    for row in rows:
        name, *_, embedded, subset, mapped, _number, _generation = row.split()
        assert (embedded, subset, mapped) == ("yes", "yes", "yes")
        assert re.match(r"[A-Z]{6}\+(Hyper|Noto)", name), name


def test_the_file_is_sound(tmp_path: Path) -> None:
    assert "No syntax or stream encoding errors found" in asked("qpdf", printed(), tmp_path, "--check")


def test_nothing_is_left_for_the_paper_machine_to_grumble_about(caplog: pytest.LogCaptureFixture) -> None:
    printed(attachments=ATTACHED)
    assert [record.message for record in caplog.records if record.name.startswith("weasyprint")] == []


def test_the_same_paper_on_another_day_is_the_same_file() -> None:
    with time_machine.travel(ISSUED, tick=False):
        first = printed(attachments=ATTACHED)
    with time_machine.travel(ISSUED + timedelta(days=400), tick=False):
        assert printed(attachments=ATTACHED) == first


def test_another_word_makes_another_file_with_another_identifier() -> None:
    def identifier(pdf: bytes) -> bytes:
        with pikepdf.open(BytesIO(pdf)) as opened:
            return bytes(opened.trailer.ID[0])

    assert identifier(printed()) != identifier(printed({"story": "Dropped."}))


def test_an_attachment_travels_inside_the_paper(tmp_path: Path) -> None:
    pdf = printed(attachments=ATTACHED)
    assert "1: wanted.csv" in asked("pdfdetach", pdf, tmp_path, "-list")
    saved = tmp_path / "out.csv"
    asked("pdfdetach", pdf, tmp_path, "-save", "1", "-o", str(saved))
    assert saved.read_bytes() == b"folder,sectors\n"


def test_four_threads_at_once_give_clean_and_identical_files() -> None:
    alone = hashlib.sha256(printed()).hexdigest()
    with ThreadPoolExecutor(4) as pool:
        files = list(pool.map(lambda _: printed(), range(8)))
    assert {hashlib.sha256(file).hexdigest() for file in files} == {alone}


def test_the_fonts_are_never_used_from_two_threads_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    original, free, together = weasyprint.HTML.write_pdf, Lock(), []

    def watched(self: Any, **options: Any) -> Any:
        alone = free.acquire(blocking=False)
        together.append(not alone)
        try:
            return original(self, **options)
        finally:
            if alone:
                free.release()

    monkeypatch.setattr(weasyprint.HTML, "write_pdf", watched)
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda _: printed(), range(4)))
    assert together == [False] * 4


# --- the page -------------------------------------------------------------------------------------------------------


def test_every_page_carries_its_number_the_code_and_the_lab(tmp_path: Path) -> None:
    table = papers.capped([(f"Folder {n}", n) for n in range(80)])
    pages = words(printed({"table": table}), tmp_path)
    assert len(pages) > 2
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in page
        assert page.count(CODE) >= 2
        assert "Quayside Media Lab" in page


def test_the_time_of_issue_stands_in_the_labs_zone_with_its_name(tmp_path: Path) -> None:
    assert "Issued 25 November 2026, 10:42 (CET, UTC+01:00)" in words(printed(), tmp_path)[0]


@pytest.mark.parametrize(
    ("local", "named"),
    [
        (datetime(2026, 7, 1, 12, tzinfo=ZoneInfo("Europe/Prague")), "CEST, UTC+02:00"),
        (datetime(2026, 7, 1, 12, tzinfo=ZoneInfo("Asia/Kolkata")), "IST, UTC+05:30"),
        (datetime(2026, 7, 1, 12, tzinfo=ZoneInfo("America/Sao_Paulo")), "UTC-03:00"),
        (datetime(2026, 7, 1, 12, tzinfo=timezone(timedelta(hours=-3, minutes=-30))), "UTC-03:30"),
        (datetime(2026, 7, 1, 12, tzinfo=UTC), "UTC"),
        (datetime(2026, 1, 1, 12, tzinfo=ZoneInfo("Europe/London")), "GMT, UTC"),
    ],
)
def test_a_zone_is_named_with_its_letters_and_offset(local: datetime, named: str) -> None:
    assert papers.zone_of(local) == named


@pytest.mark.parametrize(("size", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_a_paper_is_as_large_as_asked_for(size: str, points: tuple[int, int]) -> None:
    with pikepdf.open(BytesIO(printed(size=size))) as pdf:
        assert tuple(round(float(edge)) for edge in pdf.pages[0].MediaBox)[2:] == points


def test_a_paper_without_letterhead_does_not_name_the_lab(tmp_path: Path) -> None:
    pages = words(printed({"letterhead": False, "table": papers.capped([("a", 1)] * 60)}), tmp_path)
    assert len(pages) > 1
    assert not [page for page in pages if "Quayside" in page or "Chandlers" in page or "XX 000" in page]


def test_a_logo_says_whose_it_is_to_those_who_hear_the_paper() -> None:
    """A figure of a tagged PDF has words in its place (ISO 14289-1, 7.3; from memory)."""
    logo = vault.put(photograph(3, (300, 100)))
    with_logo = SimpleNamespace(**{**vars(LAB), "logo": logo})
    with pikepdf.open(BytesIO(printed({"lab": with_logo}))) as pdf:
        figures = [one for one in pdf.objects if isinstance(one, pikepdf.Dictionary) and one.get("/S") == "/Figure"]
        told = [str(one.get("/Alt", "")) for one in figures]
    assert f"Logo of {LAB.name}" in told
    assert all(told)


def test_a_logo_heads_the_paper_from_the_vault() -> None:
    logo = vault.put(photograph(3, (300, 100)))
    with_logo = SimpleNamespace(**{**vars(LAB), "logo": logo})
    with pikepdf.open(BytesIO(printed({"lab": with_logo}))) as pdf:
        assert len(pdf.pages[0].get_images()) == 1


WORD = re.compile(r'<word xMin="([\d.]+)" yMin="[\d.]+" xMax="([\d.]+)" yMax="([\d.]+)">([^<]+)</word>')
LONG_NAME = "Harbour and Quayside Media Recovery Laboratory of the Three Rivers and Moors"


def placed(pdf: bytes, folder: Path) -> list[tuple[str, float, float, float]]:
    """The words of the first page: each with its left and right edge and its foot, in points, as poppler sees them."""
    asked("pdftotext", pdf, folder, "-bbox", "-l", "1")  # writes beside the paper
    page = (folder / "paper.html").read_text()
    return [(word, float(left), float(right), float(foot)) for left, right, foot, word in WORD.findall(page)]


@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize("code", [CODE, "26-00417-P1-K"])
@pytest.mark.parametrize("name", ["Quay", LONG_NAME])
def test_what_the_lab_says_of_itself_stays_beside_its_logo(size: str, code: str, name: str, tmp_path: Path) -> None:
    """However long the code and the name: nothing wraps below the logo, nothing runs into the code."""
    wide = BytesIO()
    Image.new("RGB", (900, 200), "black").save(wide, "PNG")
    lab = SimpleNamespace(**vars(LAB) | {"logo": vault.put(wide.getvalue()), "name": name})
    page = placed(printed({"lab": lab}, code=code, size=size), tmp_path)
    head = page[: next(at for at, one in enumerate(page) if one[0] == "Intake")]
    (where,) = [left for word, left, _, _ in head if word == code]
    lines = {word: (left, right) for word, left, right, _ in head if word != code}
    edges = [left for left, _ in lines.values()]
    mm = 72 / 25.4
    assert min(edges) > (18 + 42) * mm, "beside a logo as wide as it may be"
    assert max(right for _, right in lines.values()) < where
    for first in (name.split()[0], "4", "Port", "+44"):
        assert lines[first][0] == pytest.approx(min(edges), abs=1)


@pytest.mark.parametrize("value", ["a.very.long.name.of.somebody@marsh-lane-choir.example", "SN" + "0123456789" * 4])
def test_one_long_word_of_a_fact_begins_beside_its_name(value: str, tmp_path: Path) -> None:
    page = placed(printed({"who": [("Reached", value), ("Phone", "+44 1632 960 232")]}), tmp_path)
    (name,) = [foot for word, _, _, foot in page if word == "Reached"]
    first = next((foot, left) for word, left, _, foot in page if value.startswith(word) and len(word) > 4)
    assert first == (pytest.approx(name, abs=1), pytest.approx((18 + 33 + 24) * 72 / 25.4, abs=4))


def test_photographs_are_scaled_down_to_what_paper_can_show() -> None:
    digest = vault.put(photograph(4))
    photo = {"digest": digest, "alt": "A drive", "caption": ""}
    with pikepdf.open(BytesIO(printed({"photos": [photo]}))) as pdf:
        widths = {int(image.Width) for page in pdf.pages for image in page.get_images().values()}
    assert widths == {round(61 / 25.4 * render.PICTURE_DPI)}  # 61 mm wide on paper


def test_a_wrong_code_never_reaches_paper() -> None:
    with pytest.raises(MistypedCode):
        printed(code="26-00417-Z")


# --- what a paper may show ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "address",
    [
        "https://pictures.example.com/a.png",
        "http://127.0.0.1:8000/static/a.png",
        "ftp://example.com/a.png",
        "file:///etc/hostname",
        "../manage.py",
        "vault:" + "0" * 64,
        "vault:../session-key",
    ],
)
def test_a_paper_shows_only_pictures_of_its_own(address: str) -> None:
    with pytest.raises(render.PictureMissing) as refused:
        render.to_pdf(f'<html lang="en"><title>t</title><img alt="x" src="{address}">', issued=ISSUED)
    assert refused.value.why


def test_a_drawing_cannot_reach_out_either() -> None:
    inner = '<image href="https://example.com/a.png" width="9" height="9"/>'
    drawing = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9">{inner}</svg>'.encode()
    page = f'<html lang="en"><title>t</title><img alt="x" src="vault:{vault.put(drawing)}">'
    with pytest.raises(render.PictureMissing):
        render.to_pdf(page, issued=ISSUED)


def test_a_picture_that_was_changed_on_the_disk_stops_the_paper() -> None:
    digest = vault.put(b"once a picture")
    vault.path(digest).write_bytes(b"now another")
    with pytest.raises(render.PictureMissing, match="was not made"):
        render.to_pdf(f'<html lang="en"><title>t</title><img alt="x" src="vault:{digest}">', issued=ISSUED)


def test_without_pango_the_refusal_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_pango(*args: Any, **kwargs: Any) -> Any:
        raise OSError("cannot load library 'libgobject-2.0-0'")

    monkeypatch.setattr(render, "_machines", [])
    monkeypatch.setattr("weasyprint.text.fonts.FontConfiguration.__init__", no_pango)
    with pytest.raises(render.PaperMachineMissing) as refused:
        printed()
    assert "apt-get install --no-install-recommends libpango-1.0-0" in refused.value.mend
    assert refused.value.status == 503
