"""Bluetooth LE: the computer's radio, a device, which of its values is the reading, and what can go wrong.

Entry point: `ble.ble`. May import what `capture.links` may.
"""
