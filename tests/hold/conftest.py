"""A vigil over three probes, and its controller set by hand."""

import pytest

from holdctl.hold.vigil import Vigil
from tests.hold.bench import stirred
from tests.hold.watched import PROBES, Controller


@pytest.fixture
def controller() -> Controller:
    return Controller()


@pytest.fixture
def vigil(controller: Controller) -> Vigil:
    return Vigil(stirred(probe=PROBES), controller)
