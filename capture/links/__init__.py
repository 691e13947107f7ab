"""Carriers of bytes: a link knows how to open a way to an instrument, never what the bytes say."""
