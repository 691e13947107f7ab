"""The web server: routes of the live page, its stream; `access`: who may ask; `documents`: what it sends.

Entry points: `server.serve`, `access.guard.Guard`, `api.LiveApi`, `documents.document.page`. May import
views, sources and text.
"""
