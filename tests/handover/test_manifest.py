from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labcases.handover import bag, manifest
from labcases.handover.manifest import BadManifest

STEPS = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="/\\"), min_size=1, max_size=8)
PATHS = st.lists(STEPS.filter(lambda step: step != ".."), min_size=1, max_size=3).map(
    lambda steps: "/".join(["data", *steps])
)
CHECKSUMS = st.dictionaries(PATHS, st.binary(min_size=1, max_size=4).map(bytes.hex), max_size=6)


@given(CHECKSUMS)
def test_what_is_written_is_read_back(checksums: dict[str, str]) -> None:
    assert manifest.parse(manifest.write(checksums)) == checksums


@given(CHECKSUMS, CHECKSUMS)
def test_every_path_is_told_once(expected: dict[str, str], found: dict[str, str]) -> None:
    told = manifest.compare(expected, found)
    assert sorted([*told.same, *told.changed, *told.missing]) == sorted(expected)
    assert len([*told.same, *told.changed, *told.extra]) == len(found)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_may_end_in_any_of_three_ways_and_blanks_may_be_many(end: str) -> None:
    text = f"AB \t  data/one file.txt{end}cd data/two.txt"
    assert manifest.parse(text) == {"data/one file.txt": "ab", "data/two.txt": "cd"}


def test_a_path_is_decoded_once_and_only_where_the_standard_encodes() -> None:
    text = "00  data/a%250Ab\n00  data/c%0ad\n00  data/%7Ee\n00  data/100%\n"
    assert list(manifest.parse(text)) == ["data/a%0Ab", "data/c\nd", "data/%7Ee", "data/100%"]


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("xyz  data/a", "Line 1 is not a checksum"),
        ("ab", "Line 1 is not a checksum"),
        ("ab  data/a\n\nab  ../a", "Line 3: '../a' leads out"),
        ("ab  data/../../a", "leads out"),
        (r"ab  data\..\..\a", "leads out"),
        ("ab  /data/a", "leads out"),
        ("ab  ~/a", "leads out"),
        ("ab  C:/data/a", "leads out"),
        ("ab  data/folder/", "is a folder"),
        ("ab  bagit.txt", "is not below data/"),
        ("ab  data/a\nab  ./data/a", "Line 2: 'data/a' is listed twice"),
    ],
)
def test_a_bad_line_is_refused_by_number_and_reason(text: str, named: str) -> None:
    with pytest.raises(BadManifest, match=named.replace("..", r"\.\.")):
        manifest.parse(text)


@pytest.mark.parametrize(
    ("path", "checksum"), [("a", "ab"), ("data/", "ab"), ("data/../a", "ab"), ("data/a", "?"), ("data/a", "")]
)
def test_what_would_not_be_read_is_not_written(path: str, checksum: str) -> None:
    with pytest.raises(BadManifest):
        manifest.write({path: checksum})


def test_a_tag_manifest_lists_what_is_not_below_data() -> None:
    assert manifest.parse("ab  bagit.txt", payload=False) == {"bagit.txt": "ab"}
    with pytest.raises(BadManifest, match="is below data/"):
        manifest.parse("ab  data/a", payload=False)


def test_what_became_of_the_files_is_told() -> None:
    told = manifest.compare({"a": "00", "b": "11", "c": "22"}, {"a": "00", "b": "99", "d": "33"})
    assert (told.same, told.changed, told.missing, told.extra) == (["a"], ["b"], ["c"], ["d"])
    assert not told.holds
    assert manifest.compare({"a": "AB"}, {"a": "ab"}).holds


def test_a_name_whose_accents_were_taken_apart_is_the_same_name() -> None:
    told = manifest.compare({"data/r\u00e9sum\u00e9": "00"}, {"data/re\u0301sume\u0301": "00"})
    assert told.same == ["data/r\u00e9sum\u00e9"]
    assert told.holds


def test_two_files_that_differ_only_in_unicode_form_are_two_files() -> None:
    both = {"data/\u00e9": "00", "data/e\u0301": "11"}
    assert manifest.compare(both, both).same == sorted(both)
    assert manifest.compare(both, {"data/e\u0301": "11"}).missing == ["data/\u00e9"]


def test_a_bag_we_make_has_no_fault_until_a_file_changes() -> None:
    files = {"data/a%.txt": b"one", "data/b/c.txt": b""}
    listed = {name: {p: hashlib.new(name, c).hexdigest() for p, c in files.items()} for name in ("sha256", "sha512")}
    tags = bag.tag_files(listed, octets=3, info={"External-Description": "Files of an invented case"})
    sizes = {path: len(content) for path, content in files.items()}
    assert bag.faults(tags, sizes, lambda path, algorithm: listed[algorithm][path]) == []
    changed = bag.faults(tags, sizes, lambda path, algorithm: hashlib.new(algorithm, b"two").hexdigest())
    assert changed[0] == "'data/a%.txt' has another checksum than in manifest-sha256.txt."
    assert bag.faults(tags | {"bag-info.txt": b""}, sizes, lambda path, algorithm: listed[algorithm][path]) == [
        "'bag-info.txt' has another checksum than in tagmanifest-sha256.txt.",
        "'bag-info.txt' has another checksum than in tagmanifest-sha512.txt.",
    ]


def test_a_line_of_information_cannot_bring_another_one_in() -> None:
    with pytest.raises(BadManifest, match="one label and one value"):
        bag.tag_files({"sha256": {}}, octets=0, info={"Note": "x\nPayload-Oxum: 9.9"})


def test_checksums_of_an_unknown_kind_prove_nothing() -> None:
    tags = {"bagit.txt": bag.DECLARATION.encode(), "manifest-crc9.txt": b"", "tagmanifest-crc9.txt": b""}
    assert bag.faults(tags, {}, lambda path, algorithm: "") == [
        "manifest-crc9.txt has checksums of a kind that is not known here.",
        "tagmanifest-crc9.txt has checksums of a kind that is not known here.",
    ]


def digest_of_nothing(path: str, algorithm: str) -> str:
    return hashlib.new(algorithm, b"").hexdigest()


def test_a_tag_manifest_lists_every_payload_manifest_and_no_tag_manifest() -> None:
    tags = bag.tag_files({"sha256": {}}, octets=0)
    only = {"bagit.txt": hashlib.sha256(tags["bagit.txt"]).hexdigest()}
    tags["tagmanifest-sha256.txt"] = manifest.write(only, payload=False).encode()
    assert bag.faults(tags, {}, digest_of_nothing) == ["tagmanifest-sha256.txt does not list 'manifest-sha256.txt'."]
    tags = bag.tag_files({"sha256": {}}, octets=0) | {"tagmanifest-md5.txt": b""}
    empty = f"{hashlib.sha256().hexdigest()}  tagmanifest-md5.txt\n".encode()
    tags["tagmanifest-sha256.txt"] += empty
    assert "tagmanifest-sha256.txt lists a tag manifest, 'tagmanifest-md5.txt'." in bag.faults(
        tags, {}, digest_of_nothing
    )


def test_before_version_one_a_file_may_stand_in_any_manifest_but_must_in_one() -> None:
    listed = manifest.write({"data/a": digest_of_nothing("data/a", "md5")}).encode()
    tags = {
        "bagit.txt": bag.DECLARATION.replace("1.0", "0.97").encode(),
        "manifest-md5.txt": listed,
        "manifest-sha1.txt": b"",
    }
    assert bag.faults(tags, {"data/a": 0}, digest_of_nothing) == []
    assert bag.faults(tags, {"data/a": 0, "data/b": 0}, digest_of_nothing) == ["No manifest lists 'data/b'."]
