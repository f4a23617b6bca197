"""What is done to a thing, noted by hand: seals, power sessions, parts, writes, parcels, its end; and corrections."""
