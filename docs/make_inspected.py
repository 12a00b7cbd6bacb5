"""Write the page with a review as an inspector would read it: `TZ=UTC PYTHONPATH=.:sim python docs/make_inspected.py`.

The night is one of those in `tests/data/`; a test holds the page against what this makes.
"""

import tempfile
from pathlib import Path

HERE = Path(__file__).parent
NIGHT = "slow-cooling"

_PAGE = """\
# A review as an inspector would read it
<!-- Made by docs/make_inspected.py from a recorded night; change it there. -->

Three nights are kept in `tests/data/` as the daemon recorded them from a simulated warmer
(`tests/review/recorded.py` makes them): a good one, one with a power cut of 70 min, and this one, whose paste was
left in its vessel in the fridge. Each finding has rule, limit, what was observed, source and verdict; nothing here
says that a food is fit to eat. What applies, your local authority decides.

```sh
holdctl review --picture night.pdf     # these words on the pages behind the picture
```

![The cooling of that night](slow-cooling.png)

```text
{report}
```
"""


def page(folder: Path) -> str:
    """Return the page; `folder` is where the record may be unpacked."""
    from holdctl.review.figures import figures_of
    from holdctl.review.night import read_night
    from holdctl.review.pages import as_lines
    from holdctl.review.report import render_report
    from tests.review.recorded import kept

    night = read_night(kept(NIGHT, folder))
    return _PAGE.format(report="\n".join(as_lines(render_report(figures_of(night), night.events))))


def picture(folder: Path, path: Path) -> None:
    """Draw the night."""
    from holdctl.record.query import Record
    from holdctl.review.picture import draw_hold

    draw_hold(Record(folder / f"{NIGHT}.db"), None, path)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        (HERE / "inspected.md").write_text(page(Path(place)), encoding="utf-8")
        picture(Path(place), HERE / "slow-cooling.png")
