"""A preset as the `holdctl.toml` of the baker who owns it: round nominal figures, not the simulator's own."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from holdsim.presets import Preset

PROGRAMME = """\
[programme]
name = "overnight"
every_part = [62, 67]

[[programme.step]]
to = 65
for = "4 h"

[programme.after]
then = "hot-holding"
"""


@dataclass(frozen=True)
class Nominal:
    """What a baker would be told: name plate, scale and a kitchen clock."""

    power_w: float
    heat_capacity_j_k: float
    delay_s: float
    loss_w_k: float
    cycle_s: float
    min_on_s: float = 2.0


def settings_text(preset: "Preset", food_code: str, port_url: str | None, programme_toml: str | None) -> str:
    """Return the whole file; `programme_toml` replaces the default programme (4 h at 65 °C, then hot
    holding).
    """
    head = f'# {preset.title}: a simulated warmer\nfood_code = "{food_code}"\ntest_rig = true\n'
    port = "" if port_url is None else f'\n[port]\nurl = "{port_url}"\n'
    programme = PROGRAMME if programme_toml is None else programme_toml
    return head + port + _warmer(preset) + _paste(preset) + _probes(preset) + "\n" + programme


def _warmer(preset: "Preset") -> str:
    told = preset.nominal
    return f"""
[warmer]
name = "{preset.title}"
power_w = {told.power_w}
heat_capacity_j_k = {told.heat_capacity_j_k}
delay_s = {told.delay_s}
loss_w_k = {told.loss_w_k}
stirred = {str(preset.warmer.stirred).lower()}
cycle_s = {told.cycle_s}
min_on_s = {told.min_on_s}
"""


def _paste(preset: "Preset") -> str:
    fill = preset.fill
    return f"""
[vessel]
inner_diameter_cm = {200.0 * preset.warmer.radius_m:.1f}
lid = "{preset.lid}"

[scald]
flour = "{fill.flour}"
mass_g = {1000.0 * fill.mass_kg:.0f}
ratio = {fill.ratio}
"""


def _probes(preset: "Preset") -> str:
    rows = [
        f'\n[[probe]]\nchannel = {channel}\nplace = "{spec.place}"\nerror_k = 0.5\n'
        for channel, spec in enumerate(preset.probes, start=1)
    ]
    return "".join(rows)
