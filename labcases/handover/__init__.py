"""Delivery, release and the handover report: everything that came in goes out, or stays by signature."""
