"""Enquiry, case, item, intake, story, wanted, terms, stages, facts: what a customer brings and where it stands."""
