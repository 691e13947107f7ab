"""The web server: who may ask, the roads of the live page, its stream, and its document."""
