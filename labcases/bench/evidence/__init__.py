"""Photos as evidence: which of them show what an examination found."""
