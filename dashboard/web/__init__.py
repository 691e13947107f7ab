"""The web server: who may ask, the routes of the live page, its stream, and its document."""
