"""Print the steady profiles of all presets: `python -m holdsim.steady_table`."""

import sys

from holdctl.settings import Place
from holdsim.presets import PRESETS

_HEAD = (
    f"{'warmer':16}{'room':>6}{'coldest':>9}{'mean':>8}{'hottest':>9}{'wall':>8}{'heater':>8}{'power':>9}\n"
)


def main() -> None:
    """Write one line per preset and room temperature, °C and W, with the middle of the paste at 65 °C."""
    sys.stdout.write(_HEAD)
    for preset in PRESETS.values():
        for room in (18.0, 24.0):
            now = preset.build(ambient_c=room).steady(65.0, Place.MID)
            figures = f"{now.coldest_c:9.2f}{now.mean_c:8.2f}{now.hottest_c:9.2f}{now.wall_c:8.2f}"
            sys.stdout.write(f"{preset.name:16}{room:6.0f}{figures}{now.heater_c:8.1f}{now.power_w:9.2f}\n")


if __name__ == "__main__":
    main()
