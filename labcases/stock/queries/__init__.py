"""Reads of the stockroom: facts for other rooms, its front page, candidates for a patient, one thing's page."""

from __future__ import annotations

from labcases.stock.queries.served import facts, parts_of

__all__ = ["facts", "parts_of"]
