"""Hard chrome: strip, deposit and finished diameters.

Entry point: `deposit.order`. Pure.
"""
