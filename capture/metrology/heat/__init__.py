"""Heat: size at 20 degrees Celsius, expansion of materials, cooling and the soak.

Entry points: `temperature.size_at_20`, `materials.expansion`, `cooling.time_constant`, `soak.soak`. Pure:
may import what the contract of `capture.metrology` puts below it.
"""
