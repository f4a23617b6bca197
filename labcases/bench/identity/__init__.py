"""Who a patient says it is, at the bench: read, compared, answered; and chips that were taken off."""
