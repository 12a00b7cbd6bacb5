"""A preset as the `holdctl.toml` of the baker who owns it: round nominal figures, not the simulator's own."""

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from holdctl.settings import Kind, Material

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
class Figures:
    """Heat capacity, J/K, delay, s, and loss, W/K: what only some bakers have measured."""

    heat_capacity_j_k: float
    delay_s: float
    loss_w_k: float


@dataclass(frozen=True)
class Nominal:
    """What a baker would be told: name plate and words, or figures instead of the kind."""

    power_w: float
    cycle_s: float
    min_on_s: float = 2.0
    kind: Kind | None = None
    material: Material | None = None
    figures: Figures | None = None


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
    kind = "" if told.kind is None else f'kind = "{told.kind}"\n'
    figures = {} if told.figures is None else asdict(told.figures)
    measured = "".join(f"{key} = {value}\n" for key, value in figures.items())
    return f"""
[warmer]
name = "{preset.title}"
power_w = {told.power_w}
{kind}{measured}stirred = {str(preset.warmer.stirred).lower()}
cycle_s = {told.cycle_s}
min_on_s = {told.min_on_s}
"""


def _paste(preset: "Preset") -> str:
    fill, material = preset.fill, preset.nominal.material
    made_of = "" if material is None else f'material = "{material}"\n'
    return f"""
[vessel]
inner_diameter_cm = {200.0 * preset.warmer.radius_m:.1f}
{made_of}lid = "{preset.lid}"

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
