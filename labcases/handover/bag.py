"""A folder that proves itself whole: RFC 8493 (BagIt 1.0), with the customer's files below ``data/``.

``tag_files`` makes the few small texts that stand beside ``data/``; ``faults`` says what is wrong with a bag.
Neither touches a disk: sizes and checksums are handed in, so that terabytes are read by whoever holds the medium.

>>> checksums = {"data/a.txt": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"}
>>> tags = tag_files({"sha256": checksums}, octets=0)
>>> sorted(tags)
['bag-info.txt', 'bagit.txt', 'manifest-sha256.txt', 'tagmanifest-sha256.txt']
>>> faults(tags, {"data/a.txt": 0}, lambda path, algorithm: checksums[path])
[]
>>> faults(tags, {}, lambda path, algorithm: "")
["manifest-sha256.txt lists 'data/a.txt', which is not there.", 'Payload-Oxum says 0.1; there are 0.0.']
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator, Mapping

from labcases.handover import manifest
from labcases.handover.manifest import BadManifest

Digest = Callable[[str, str], str]  # path of a payload file and name of an algorithm, to hex

DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"

_DECLARED = re.compile(r"BagIt-Version: (\d+)\.(\d+)(?:\r\n|\r|\n)Tag-File-Character-Encoding: (\S+)(?:\r\n|\r|\n)?")
_MANIFEST = re.compile(r"manifest-([a-z0-9]+)\.txt")
_TAG_MANIFEST = re.compile(r"tagmanifest-([a-z0-9]+)\.txt")
_OXUM = re.compile(r"^Payload-Oxum[ \t]*:[ \t]*(.*?)[ \t]*$", re.MULTILINE | re.IGNORECASE)


def tag_files(
    checksums: Mapping[str, Mapping[str, str]], octets: int, info: Mapping[str, str] | None = None
) -> dict[str, bytes]:
    """The files beside ``data/`` of a bag, by name.

    ``checksums`` is path to hex by algorithm (``sha256``, ``sha512``), each with all files; ``octets`` the size
    of all files together; ``info`` further lines of bag-info.txt. Raises BadManifest for paths no bag can hold.
    """
    streams = max(len(listed) for listed in checksums.values())
    lines = {"Payload-Oxum": f"{octets}.{streams}", **(info or {})}
    tags = {"bagit.txt": DECLARATION, "bag-info.txt": "".join(_info_line(*line) for line in lines.items())}
    tags |= {f"manifest-{algorithm}.txt": manifest.write(listed) for algorithm, listed in checksums.items()}
    encoded = {name: text.encode() for name, text in tags.items()}
    for algorithm in checksums:
        digests = {name: hashlib.new(algorithm, content).hexdigest() for name, content in encoded.items()}
        tags[f"tagmanifest-{algorithm}.txt"] = manifest.write(digests, payload=False)
    return {name: text.encode() for name, text in tags.items()}


def faults(tags: Mapping[str, bytes], payload: Mapping[str, int], digest: Digest) -> list[str]:
    """What is wrong with a bag, a sentence each; nothing when it is complete and valid after RFC 8493 s.3.

    ``tags`` are all files outside ``data/`` by path, ``payload`` the sizes of those below, ``digest`` their
    checksums. Files that fetch.txt would still bring count as missing.
    """
    declared = _DECLARED.fullmatch(tags.get("bagit.txt", b"").decode("utf-8", "replace"))
    if not declared:
        return ["bagit.txt is missing, or is not the two lines of a declaration in UTF-8 without a byte-order mark."]
    version, encoding = (int(declared[1]), int(declared[2])), declared[3]
    try:
        texts = {name: content.decode(encoding) for name, content in tags.items() if name != "bagit.txt"}
    except (LookupError, UnicodeDecodeError) as error:
        return [f"A file is not in the encoding that bagit.txt declares: {error}."]
    return [
        *_payload_faults(texts, payload, digest, version),
        *_tag_faults(texts, tags, version),
        *_oxum_faults(texts.get("bag-info.txt", ""), payload),
    ]


def _payload_faults(
    texts: Mapping[str, str], payload: Mapping[str, int], digest: Digest, version: tuple[int, int]
) -> Iterator[str]:
    """Every payload manifest, and, s.3 item 4, every file in every one of them (before 1.0: in at least one)."""
    names = sorted(name for name in texts if _MANIFEST.fullmatch(name))
    if not names:
        yield "There is no payload manifest."
    unlisted = set(payload)
    for name in names:
        try:
            listed = manifest.parse(texts[name])
        except BadManifest as error:
            yield f"{name}: {error}"
            continue
        algorithm = _MANIFEST.sub(r"\1", name)
        if algorithm not in hashlib.algorithms_available:
            yield f"{name} has checksums of a kind that is not known here."
            continue
        yield from _wrong(name, listed, {path: digest(path, algorithm) for path in listed if path in payload})
        unlisted -= set(listed)
        if version >= (1, 0):
            yield from (f"{name} does not list {path!r}." for path in sorted(set(payload) - set(listed)))
    if version < (1, 0):
        yield from (f"No manifest lists {path!r}." for path in sorted(unlisted))


def _tag_faults(texts: Mapping[str, str], tags: Mapping[str, bytes], version: tuple[int, int]) -> Iterator[str]:
    """Every tag manifest, and, s.2.2.1, that it lists every payload manifest and no tag manifest."""
    for name in sorted(name for name in texts if _TAG_MANIFEST.fullmatch(name)):
        try:
            listed = manifest.parse(texts[name], payload=False)
        except BadManifest as error:
            yield f"{name}: {error}"
            continue
        algorithm = _TAG_MANIFEST.sub(r"\1", name)
        if algorithm not in hashlib.algorithms_available:
            yield f"{name} has checksums of a kind that is not known here."
            continue
        found = {path: hashlib.new(algorithm, tags[path]).hexdigest() for path in listed if path in tags}
        yield from _wrong(name, listed, found)
        yield from (
            f"{name} lists a tag manifest, {path!r}." for path in sorted(listed) if _TAG_MANIFEST.fullmatch(path)
        )
        if version >= (1, 0):
            unlisted = (path for path in sorted(texts) if _MANIFEST.fullmatch(path) and path not in listed)
            yield from (f"{name} does not list {path!r}." for path in unlisted)


def _wrong(name: str, listed: Mapping[str, str], found: Mapping[str, str]) -> Iterator[str]:
    comparison = manifest.compare(listed, found)
    yield from (f"{name} lists {path!r}, which is not there." for path in comparison.missing)
    yield from (f"{path!r} has another checksum than in {name}." for path in comparison.changed)


def _oxum_faults(bag_info: str, payload: Mapping[str, int]) -> Iterator[str]:
    """Payload-Oxum, s.2.2.2: octets and number of files, at most once."""
    said = _OXUM.findall(bag_info.replace("\r\n", "\n").replace("\r", "\n"))
    there = f"{sum(payload.values())}.{len(payload)}"
    if len(said) > 1:
        yield "bag-info.txt gives Payload-Oxum more than once."
    elif said and said[0] != there:
        yield f"Payload-Oxum says {said[0]}; there are {there}."


def _info_line(label: str, value: str) -> str:
    if re.search(r"[:\r\n]", label) or re.search(r"[\r\n]", value):
        raise BadManifest(f"A line of bag-info.txt is one label and one value; {label!r} has more.")
    return f"{label}: {value}\n"
