"""Form: profiles along and round a part, lobes, roundness and taper.

Entry points: `profile.profile`, `taper.correct`, `lobes.ovality`, `roundness.roundness`. Pure: may import
what the contract of `capture.metrology` puts below it.
"""
