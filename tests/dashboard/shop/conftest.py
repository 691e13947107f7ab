"""The engines of a shop and a browser, as their own tests have them."""

from tests.capture.shop.conftest import database, mosquitto, postgres, shop  # noqa: F401 - fixtures
from tests.dashboard.browser.conftest import browser, shots  # noqa: F401 - fixtures
