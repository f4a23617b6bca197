"""Words to the customer: wordings, the outbox, phone calls and chats."""
