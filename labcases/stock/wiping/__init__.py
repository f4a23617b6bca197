"""Wipes of media, their verification and certificate; and the health of media."""
