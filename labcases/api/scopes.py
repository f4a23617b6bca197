"""What the token of a bench computer may open: one word for each kind of thing it tells or asks."""

from __future__ import annotations

SCOPES = {
    "steps": "note the steps it takes",
    "readings": "say how much it has read, from time to time",
    "coverage": "send which sectors were read",
    "files": "send lists of the files that were found",
    "plan": "ask what to read next",
}
