"""The forms of the stockroom: what comes in (stocking), its verbs (verbs), what lists are narrowed by (lists)."""
