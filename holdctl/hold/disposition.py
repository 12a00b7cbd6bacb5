"""What was done with the paste that an alarm concerns: used, reworked or discarded; by whom, in whose record.

Words of HACCP: a deviation has a corrective action (here the alarm table's word on the paste) and the disposition of
the product, both to be recorded (Codex CXC 1-1969, hazard analysis section; from memory).
"""

import re
from enum import StrEnum

import msgspec

from holdctl.errors import ConfigError
from holdctl.events import Notice, NoticeKind
from holdctl.safety import INTERLOCKS

WINDOW = "unsafe-window"
"""In place of an alarm's name: the intervals that broke a rule of the food code."""


class Disposal(StrEnum):
    """What became of the paste."""

    USED = "used"
    REWORKED = "reworked"
    DISCARDED = "discarded"


class Disposition(msgspec.Struct, frozen=True):
    """One entry."""

    alarm: str
    what: Disposal
    hold: int
    """The hold whose paste it is: entries may be made after its end, while another one runs."""
    note: str = ""

    def subject(self) -> str:
        """Return it as the subject of a request, `high-limit discarded hold 12: smelt of caramel`."""
        return f"{self.alarm} {self.what.value} hold {self.hold}" + (f": {self.note}" if self.note else "")

    def entry(self, by: str) -> Notice:
        """Return the entry for the record."""
        note = f": {self.note}" if self.note else ""
        text = f"paste of hold {self.hold} {self.what.value} after {self.alarm}, entered by {by}{note}"
        detail = {"hold": self.hold, "what": self.what.value, "by": by, "note": self.note}
        return Notice(NoticeKind.DISPOSITION, self.alarm, text, detail)


_SUBJECT = re.compile(r"(\S+) (\S+) hold (\d{1,15})(?:: (.*))?")


def read_subject(subject: str) -> Disposition:
    """Return what the subject of a request says. Raises ConfigError where it can't be entered."""
    found = _SUBJECT.fullmatch(subject)
    if found is None:
        raise ConfigError(f"“{subject}” is no disposition: ask with `holdctl disposition ALARM used`.")
    alarm, what, hold, note = found.groups()
    return checked(alarm, what, int(hold), note or "")


def checked(alarm: str, what: str, hold: int, note: str) -> Disposition:
    """Return a disposition of an alarm that concerns the paste, or of unsafe windows. Raises ConfigError else."""
    row = INTERLOCKS.get(alarm)
    if alarm != WINDOW and (row is None or not row.paste):
        concerned = ", ".join([WINDOW, *(name for name, one in INTERLOCKS.items() if one.paste)])
        why = "is no alarm" if row is None else "does not concern the paste"
        raise ConfigError(f"“{alarm}” {why}: name one of {concerned}.")
    if what not in {one.value for one in Disposal}:
        raise ConfigError(f"“{what}” says not what became of the paste: used, reworked or discarded.")
    return Disposition(alarm, Disposal(what), hold, note)
