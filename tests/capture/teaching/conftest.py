"""The invented gauges that the tests of dialects have."""

from tests.capture.dialects.conftest import gauge  # noqa: F401 - a fixture
