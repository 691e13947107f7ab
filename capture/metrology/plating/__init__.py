"""Hard chrome: strip, deposit and finished diameters.

Entry point: `deposit.order`. Pure: may import what the contract of `capture.metrology` puts below it.
"""
