"""The rig itself: a process that is gone before anybody asks for it is still told from all others."""

import time

from tests.daemon.nursery import Nursery


def test_one_that_ended_at_once_gives_its_own_exit_code(tmp_path, monkeypatch):
    nursery = Nursery()
    real = nursery._told

    def late():
        time.sleep(0.05)  # a busy machine: it has ended, and is reaped, before its birth is read
        return real()

    monkeypatch.setattr(nursery, "_told", late)
    try:
        born = [
            nursery.start((word,), tmp_path / "out", tmp_path / "err") for word in ("nonsense", "--version")
        ]
        assert [child.wait(10.0) for child in born] == [2, 0]
        assert [child.poll() for child in born] == [2, 0]
        born[0].kill()  # gone already: nobody else is hit
    finally:
        nursery.close()
