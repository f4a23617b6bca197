"""An OpenAPI document as a page shows it: operations in order, their fields in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Field:
    """One thing that is sent or answered."""

    name: str
    where: str
    kind: str
    needed: bool
    words: str


@dataclass(frozen=True)
class Operation:
    """One method of one address."""

    name: str
    method: str
    path: str
    words: str
    fields: list[Field]
    body: str
    body_words: str
    answers: list[tuple[str, str]]
    gives: list[Field]

    @property
    def steps(self) -> list[str]:
        """Its name in pieces, to be broken between them."""
        return self.name.split("_")


def outline(document: Mapping[str, Any]) -> list[Operation]:
    """Every operation of a document, in its order."""
    return [
        _operation(document, path, method, said)
        for path, methods in document["paths"].items()
        for method, said in methods.items()
    ]


def _operation(document: Mapping[str, Any], path: str, method: str, said: Mapping[str, Any]) -> Operation:
    body = said.get("requestBody", {})
    content = body.get("content", {})
    fields = [_parameter(document, one) for one in said.get("parameters", [])]
    for about in content.values():
        fields += [one for one in _fields(document, about["schema"], "body") if one not in fields]
    good = [one for status, one in said["responses"].items() if int(status) < 300]
    gives = list(_fields(document, next(iter(good[0]["content"].values()))["schema"], "answer")) if good else []
    answers = [(str(status), one["description"]) for status, one in sorted(said["responses"].items(), key=str)]
    words = said.get("description") or said.get("summary", "")
    named = (said["operationId"], method.upper(), path, words)
    return Operation(*named, fields, " or ".join(content), body.get("description", ""), answers, gives)


def _parameter(document: Mapping[str, Any], said: Mapping[str, Any]) -> Field:
    kind = _kind(document, said["schema"])
    words = said.get("description") or said["schema"].get("description", "")
    return Field(said["name"], said["in"], kind, bool(said.get("required")), words)


def _fields(document: Mapping[str, Any], schema: Mapping[str, Any], where: str) -> Iterator[Field]:
    known = _resolved(document, schema)
    for name, about in known.get("properties", {}).items():
        needed = name in known.get("required", [])
        yield Field(name, where, _kind(document, about), needed, about.get("description", ""))
        inner = about.get("items", {})
        if "$ref" in inner:
            yield from _fields(document, inner, f"each of {name}")


def _resolved(document: Mapping[str, Any], schema: Mapping[str, Any]) -> Mapping[str, Any]:
    name = schema.get("$ref", "").rpartition("/")[2]
    return document["components"]["schemas"][name] if name else schema


def _kind(document: Mapping[str, Any], schema: Mapping[str, Any]) -> str:
    if "anyOf" in schema:
        kinds = [_kind(document, one) for one in schema["anyOf"] if one.get("type") != "null"]
        return " or ".join(kinds)
    if "enum" in schema:
        return " or ".join(str(one) or "nothing" for one in schema["enum"])
    if schema.get("type") == "array":
        return "list"
    return str(schema.get("format") or _resolved(document, schema).get("type", ""))
