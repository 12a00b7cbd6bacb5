import pytest

from holdctl.device.session import NodeSession

from .frames import HELLO


@pytest.fixture
def session():
    """A session whose node has answered at time 0."""
    made = NodeSession()
    made.due(0)
    made.receive(HELLO, 0)
    return made
