"""The stockroom: donors and their parts, destinations and delivery media.

Families (aliases, expected heads, what worked), matching (which part fits which patient, and why), fitting
(which destination holds what the plan reads), assignment (nothing spent twice, nothing mixed up), buying,
stocktake, import. The rules of matching are data that the lab edits; the files that are not Django roles
compute with plain data and import no Django.
"""
