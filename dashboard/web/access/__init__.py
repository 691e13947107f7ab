"""Who may connect and who may ask: the socket, TLS, tokens, limits on requests and connections.

Entry points: `guard.Guard`, `connections.bounded`, `tls`, `listening.listen`. May import text and documents.
"""
