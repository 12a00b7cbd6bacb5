"""A command may hang, flood, fork or not be there: it is ended in time, and its end is known."""

import json
import os
import sys
import time

import pytest

from holdctl.clock import SystemClock
from holdctl.daemon.aside import QUEUE, Aside
from holdctl.daemon.hook import KEPT, run


def python(code):
    return [sys.executable, "-I", "-S", "-c", code]


def play(argv, message=b"{}", timeout_s=10.0):
    begun = time.monotonic()
    outcome = run(argv, message, timeout_s, SystemClock())
    return outcome, time.monotonic() - begun


def gone(pid):
    """Whether a process is gone, or only waits to be reaped by whoever took it over."""
    for _ in range(100):
        try:
            with open(f"/proc/{pid}/stat") as file:  # noqa: PTH123
                if file.read().rsplit(")", 1)[1].split()[0] == "Z":
                    return True
        except (FileNotFoundError, ProcessLookupError):
            return True
        time.sleep(0.02)
    return False


def test_it_gets_the_message_on_its_standard_input_and_its_exit_code_is_known():
    message = json.dumps({"text": "héat"}).encode() + b" " * 200_000  # more than a pipe holds
    code = "import sys, json; print(json.load(sys.stdin)['text'].encode()); sys.exit(3)"
    outcome, _ = play(python(code), message)
    assert (outcome.code, outcome.killed) == (3, False)
    assert outcome.output == "b'h\\xc3\\xa9at'"
    assert outcome.words.startswith("ended with 3: ")


def test_no_shell_reads_its_arguments():
    outcome, _ = play(["/bin/echo", "$HOME; ls", "*"])
    assert outcome.output == "$HOME; ls *"


def test_its_environment_is_small_and_fixed(monkeypatch):
    monkeypatch.setenv("SECRET_OF_MINE", "x")
    outcome, _ = play(["/usr/bin/env"])
    assert {line.split("=")[0] for line in outcome.output.splitlines()} == {"PATH", "LANG", "HOME"}


def test_one_that_hangs_is_killed_with_what_it_started():
    code = (
        "import subprocess, sys, time\n"
        "p = subprocess.Popen(['/bin/sleep', '60']); print(p.pid, flush=True); time.sleep(60)"
    )
    outcome, took = play(python(code), timeout_s=1.0)
    assert outcome.killed
    assert outcome.code == -9
    assert took < 3
    assert gone(int(outcome.output))


def test_one_that_ends_does_not_leave_others_behind_that_hold_its_output():
    code = "import subprocess; print(subprocess.Popen(['/bin/sleep', '60']).pid)"
    outcome, took = play(python(code))
    assert (outcome.code, outcome.killed) == (0, False)
    assert took < 5
    assert gone(int(outcome.output))


def test_one_that_never_reads_is_not_waited_for():
    outcome, took = play(["/bin/sleep", "0.2"], b"x" * 1_000_000)
    assert outcome.code == 0
    assert took < 3


def test_one_that_floods_its_output_is_cut_short():
    outcome, took = play(["/usr/bin/yes", "and again"], timeout_s=20.0)
    assert took < 5  # its output was closed, and it died of that
    assert outcome.code != 0
    assert len(outcome.output.encode()) <= KEPT


def test_one_that_goes_on_without_its_output_is_still_killed_in_time():
    code = "import os, sys, time, signal\nos.close(1); os.close(2); time.sleep(60)"
    outcome, took = play(python(code), timeout_s=1.0)
    assert outcome.killed
    assert took < 3


@pytest.mark.parametrize("argv", [["/no/such/program"], ["/etc"], ["a\0b"]])
def test_one_that_cannot_be_started_is_said(argv):
    outcome, _ = play(argv)
    assert outcome.code is None
    assert outcome.words.startswith("could not be started: ")


def test_a_job_beside_the_loop_never_makes_it_wait_and_too_many_are_refused():
    reader, writer = os.pipe()
    aside = Aside("test")
    begun = time.monotonic()
    taken = [aside.do(lambda: str(os.read(reader, 1), "ascii")) for _ in range(QUEUE + 5)]
    assert time.monotonic() - begun < 1
    assert taken.count(True) in (QUEUE, QUEUE + 1)
    assert not taken[-1]
    assert aside.said() == []
    os.write(writer, b"x" * 40)
    aside.close(5)
    assert aside.said() == ["x"] * taken.count(True)
    os.close(reader)
    os.close(writer)


def test_a_fault_in_a_job_is_told_and_the_next_one_is_done():
    aside = Aside("test")
    aside.do(lambda: str(1 / 0))
    aside.do(lambda: "")
    aside.do(lambda: "done")
    aside.close(5)
    assert aside.said() == ["test: ZeroDivisionError: division by zero", "done"]
