"""Quotes, authority and money: what the work costs, who said yes, and what is still owed."""
