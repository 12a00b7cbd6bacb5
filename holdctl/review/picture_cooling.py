"""The stages of a cooling in the picture: a line at each temperature that must be reached, as long as its time."""

from typing import TYPE_CHECKING, Any

from holdctl.review.cooled import cooling_accounts
from holdctl.review.words import clock, temp

if TYPE_CHECKING:
    from holdctl.review.night import Night

COLOUR = "#8c1c13"


def draw_stages(axis: Any, night: "Night", units: str) -> list[Any]:
    """Draw them and return what stands in the key; nothing of a hold without a cooling."""
    handles: list[Any] = []
    for account in cooling_accounts(night):
        for stage in account.stages:
            if stage.began_s is None:
                continue
            due_s = stage.began_s + stage.within_s
            y = stage.to_c if units == "C" else stage.to_c * 1.8 + 32
            line = axis.plot(
                [stage.began_s / 3600, due_s / 3600], [y, y], color=COLOUR, linewidth=1.4, marker="|", markersize=9,
                scalex=False,
            )[0]  # fmt: skip
            axis.annotate(
                f"{temp(stage.to_c, units, 0)} by {clock(due_s)}", (stage.began_s / 3600, y), (4, 3), fontsize=7.5,
                color=COLOUR, textcoords="offset points", va="bottom",
            )  # fmt: skip
            if not handles:
                line.set_label("cooling, time allowed")
                handles.append(line)
    return handles
