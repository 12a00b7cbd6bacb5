"""Each program is built once a session."""

import pytest

from tests.firmware.tools import build_node, build_portable, need_emulator


@pytest.fixture(scope="session")
def portable(tmp_path_factory):
    return build_portable(tmp_path_factory.mktemp("portable"))


@pytest.fixture(scope="session")
def elf(tmp_path_factory):
    need_emulator()
    return build_node(tmp_path_factory.mktemp("node"))


@pytest.fixture(scope="session")
def faulty_elf(tmp_path_factory):
    """The same firmware with words that make it hang: `fault-h` and others, in no other build."""
    need_emulator()
    return build_node(tmp_path_factory.mktemp("faulty"), "-DTEST_FAULTS")
