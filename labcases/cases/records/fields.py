"""The columns that a table of old records may have: one row a medium, rows of one number are one case."""

from __future__ import annotations

from collections.abc import Mapping

from labcases.core.importing import Field, day, label_text, line, one_of, prose, whole


def fields(kinds: Mapping[str, str]) -> list[Field]:
    """``kinds`` maps each word for a kind of medium to its value."""
    return [
        Field(
            "number", "Old number", ("number", "case", "case number", "job", "reference", "ref"), True, label_text(60)
        ),
        Field("name", "Customer", ("name", "customer name", "client", "contact"), read=line(300)),
        Field("company", "Company", ("firm", "organisation"), read=line(300)),
        Field("phone", "Phone", ("telephone", "tel", "mobile"), read=line(60)),
        Field("email", "E-mail", ("email", "mail", "e-mail address"), read=line(254)),
        Field("address", "Address", ("postal address",), read=prose(2_000)),
        Field("received", "Came in", ("received", "date", "date in", "opened"), True, day),
        Field(
            "closed", "Closed", ("date out", "returned", "finished"), read=day, help="Left empty: the day it came in."
        ),
        Field("kind", "Kind", ("type", "media type"), read=one_of(kinds)),
        Field("maker", "Maker", ("manufacturer", "brand", "make"), read=line(100)),
        Field("model", "Model", ("model number",), read=label_text()),
        Field("serial", "Serial", ("serial number", "s/n"), read=label_text()),
        Field("sectors", "Sectors", ("lba",), read=whole(least=1, most=2**50)),
        Field("story", "What happened", ("fault", "problem", "description"), read=prose(4_000)),
        Field("result", "What came of it", ("result", "outcome"), read=prose(4_000)),
        Field("note", "Note", ("notes", "remarks", "comment"), read=prose(4_000)),
    ]
