"""What a person says of a cooling when asking for it: where the paste stands, how deep, lid, stirred."""

from typing import Annotated

import msgspec
from msgspec import Meta

from holdctl.errors import ConfigError
from holdctl.paste import USUAL_RATIO, Properties, paste_properties
from holdctl.paste.cooling import Around, Form, Stand, around
from holdctl.settings import Lid, Settings

MIDDLE_C = 35.0
"""Properties of the paste are taken here: about the middle of its fall."""
_USUAL = Form(0.05, 0.16)
"""Of a paste whose vessel is not told: its course is used, its rate is left open."""


class CoolOrder(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One `holdctl cool`, as the request carries it."""

    stand: Stand = Stand.ROOM
    """Where the paste stands."""
    depth_cm: Annotated[float, Meta(ge=0.2, le=100.0)] | None = None
    """It is spread in a wide layer this deep, cm; None: it is in its vessel."""
    open: bool | None = None
    """Whether it is open; None: as the settings have the lid."""
    stirred: bool = False
    """Whether somebody keeps it moving."""
    alone: bool = False
    """No hold went before, and no relay is leased."""
    unknown: bool = False
    """The settings tell of no vessel and no mass."""

    def subject(self) -> str:
        """Return it as the subject of a request."""
        return msgspec.json.encode(self).decode()

    def around(self, settings: Settings) -> Around:
        """Return what is around the paste."""
        lid = settings.vessel.lid if self.open is None else Lid.OFF if self.open else Lid.ON
        return around(self.stand, settings.room.ambient_c, lid, settings.vessel.material)

    def form(self, settings: Settings) -> Form:
        """Return the paste's form."""
        if self.depth_cm is not None:
            return Form(self.depth_cm / 100)
        if self.unknown:
            return _USUAL
        mass_kg, diameter_m = settings.scald.mass_g / 1000, settings.vessel.inner_diameter_cm / 100
        return Form.in_vessel(mass_kg, diameter_m, paste_of(settings))

    @property
    def known(self) -> bool:
        """Whether the paste's form is known."""
        return self.depth_cm is not None or not self.unknown

    def words(self) -> str:
        """Return where and how it cools."""
        where = {Stand.ROOM: "in the room", Stand.FRIDGE: "in the fridge", Stand.ICE_BATH: "in an ice bath"}
        parts = [where[self.stand]]
        parts += [f"{self.depth_cm:g} cm deep"] if self.depth_cm is not None else []
        parts += ["open" if self.open else "covered"] if self.open is not None else []
        return ", ".join([*parts, *(["stirred"] if self.stirred else [])])


def read_order(subject: str) -> CoolOrder:
    """Return what a request's subject says. Raises ConfigError where it is no order for a cooling."""
    try:
        return msgspec.json.decode(subject or "{}", type=CoolOrder)
    except msgspec.DecodeError as error:
        raise ConfigError(
            f"“{subject}” is no order for a cooling ({error}): ask with `holdctl cool`."
        ) from error


def paste_of(settings: Settings) -> Properties:
    """Return the scald's properties in the middle of its fall."""
    scald = settings.scald
    ratio = USUAL_RATIO[scald.flour] if scald.ratio is None else scald.ratio
    return paste_properties(scald.flour, ratio, MIDDLE_C)
