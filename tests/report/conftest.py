import pytest
from week import week

from nesting.model import Layout


@pytest.fixture(scope="session")
def layout() -> Layout:
    """The small week, laid out by hand."""
    return week()
