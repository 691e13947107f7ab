"""The web server: who may ask, the routes of the live page, its stream, and its document.

Entry points: `server.serve`, `guard.Guard`, `api.LiveApi`, `document.page`. May import views, sources and
text.
"""
