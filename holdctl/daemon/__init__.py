"""The daemon: the one loop that reads, decides, leases and records. It never draws and computes nothing itself."""

from holdctl.daemon.loop import Daemon
from holdctl.daemon.pace import Pace
from holdctl.daemon.prepare import Job, check, prepare

__all__ = ["Daemon", "Job", "Pace", "check", "prepare"]
