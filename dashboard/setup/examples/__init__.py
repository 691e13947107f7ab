"""Sheets that a new job may begin from; each is read by the reader of sheets in a test.

Entry points: the files, by name. Imports nothing.
"""
