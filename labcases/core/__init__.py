"""What every room stands on: refusals, money, codes, clock text, page-or-fragment, one-time keys. Knows no room."""
