"""What every test may rely on."""

import pytest
from django.core.cache import cache


@pytest.fixture(autouse=True)
def _nothing_remembered_between_tests():
    cache.clear()
