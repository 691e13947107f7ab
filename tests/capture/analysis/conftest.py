"""The sessions told line by line that the tests of the state have."""

from tests.capture.state.conftest import (  # noqa: F401 - fixtures
    both_measured,
    fit_sheet,
    grind,
    job,
    new_fit_sheet,
    new_session,
    one_place,
    session,
    sheet,
)
