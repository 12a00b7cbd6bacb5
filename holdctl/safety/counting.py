"""How often alarms come: a flood of many, and one that chatters."""

from collections import deque

from holdctl.safety.alarm_states import CHATTER, CHATTER_MS, FLOOD_BEGINS, FLOOD_ENDS, FLOOD_MS
from holdctl.safety.interlocks import Interlock, Priority


class Flood:
    """Counts alarms within the last ten minutes."""

    def __init__(self) -> None:
        self._came: deque[int] = deque()
        self.on = False
        self.told: set[str] = set()
        """Names told in this flood."""
        self.held_back = 0

    def count(self, now_ms: int) -> bool:
        """Take one alarm; True where the flood begins with it."""
        self._came.append(now_ms)
        if self.on or self._recent(now_ms) <= FLOOD_BEGINS:
            return False
        self.on, self.held_back = True, 0
        self.told.clear()
        return True

    def ebbs(self, now_ms: int) -> bool:
        """Return True where the flood ends now."""
        if not self.on or self._recent(now_ms) >= FLOOD_ENDS:
            return False
        self.on = False
        return True

    def hides(self, row: Interlock) -> bool:
        """Return whether an alarm is to be held back now: an urgent one is told once in a flood all the same."""
        known = row.name in self.told
        self.told.add(row.name)
        return self.on and (known or row.priority is not Priority.HIGH)

    def _recent(self, now_ms: int) -> int:
        while self._came and now_ms - self._came[0] >= FLOOD_MS:
            self._came.popleft()
        return len(self._came)


class Chatter:
    """Counts how often one alarm came within the last minute."""

    def __init__(self) -> None:
        self._came: deque[int] = deque(maxlen=CHATTER)
        self.on = False

    def count(self, now_ms: int) -> bool:
        """Take one raise; True where the chattering begins with it."""
        self.quiet(now_ms)
        self._came.append(now_ms)
        began = not self.on and len(self._came) == CHATTER and now_ms - self._came[0] < CHATTER_MS
        self.on = self.on or began
        return began

    def quiet(self, now_ms: int) -> bool:
        """Return whether it has not come for a minute; then it chatters no more."""
        still = not self._came or now_ms - self._came[-1] >= CHATTER_MS
        self.on = self.on and not still
        return still
