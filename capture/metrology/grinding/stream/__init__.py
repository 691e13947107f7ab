"""What streams tell of a grind: where the wheel head stood, how many passes that were, what each took.

Entry points: `head_path.HeadPath`, `pass_count.count`, `ride_figures.ride_figures`. Pure: may import what
the contract of `capture.metrology` puts below it.
"""
