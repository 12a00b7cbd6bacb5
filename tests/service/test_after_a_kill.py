"""What the unit for the boot asks: was a hold left open?"""

import signal

from holdctl.daemon.heartbeat import heartbeat_file, read
from tests.daemon.conftest import EnoughSeenError, bench
from tests.daemon.rig import holdctl

__all__ = ["bench"]


def unfinished(bench):
    return holdctl("alive", "--unfinished", "--record", str(bench.record_path)).returncode == 0


def test_a_hold_that_was_killed_is_left_open_and_missed_until_it_goes_on_and_ends(bench):
    host = bench.start()
    seen = []

    def kill(second):
        if second == 20:
            seen.append(unfinished(bench))  # it runs: nothing has to be started
            host.kill()
            host.wait()
            raise EnoughSeenError

    bench.run(30, kill, patience=1.0)
    assert seen == [False]
    assert unfinished(bench)
    assert not read(heartbeat_file(bench.record_path)).ended

    again = bench.start()

    def stop(second):
        if again.poll() is not None:
            raise EnoughSeenError
        if second == 50:
            again.send_signal(signal.SIGTERM)

    bench.run(90, stop, patience=1.0)
    assert again.wait(10) == 0
    assert not unfinished(bench)
    assert read(heartbeat_file(bench.record_path)).ended
    assert holdctl("alive", "--record", str(bench.record_path)).returncode == 0
