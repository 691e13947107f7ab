"""A machine's side: the recording as an outbox, and what of it the broker has taken.

Entry point: `publisher.Publisher`. May import the messages, recordings and the host.
"""
