"""Wheel and work: speeds, depths and traverse beside what is usual, and the cause of chatter.

Each module is an entry point of its own. Pure: may import what the contract of `capture.metrology` puts
below it.
"""
