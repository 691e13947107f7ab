"""What all tests share: one reproducible way of drawing examples."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

settings.register_profile(
    "tenths", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("tenths")
