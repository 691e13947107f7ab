"""What goes over the broker: topics, messages, the connection, and where it is.

Entry points: `connection.Connection`, `broker.broker_of`. May import recordings and the host.
"""
