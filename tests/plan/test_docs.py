"""The pages about bread files and plans say what the code reads and writes."""

import re
import runpy
from pathlib import Path

import pytest

from holdctl.cli.planning import plan as command
from holdctl.paste.flours import USUAL_INCREASE, USUAL_RATIO

DOCS = Path(__file__).parents[2] / "docs"
PAGES = runpy.run_path(str(DOCS / "make_plan_pages.py"))["PAGES"]


@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_generated_page_is_what_the_code_says(name):
    assert (DOCS / name).read_text("utf-8") == PAGES[name]()


def test_every_key_of_a_bread_file_has_its_meaning():
    rows = re.findall(r"^\| `\w+` \| (.*?) \| .* \| (.*) \|$", PAGES["bread.md"](), re.M)
    assert rows
    assert [kind for kind, meaning in rows if not meaning and kind not in ("table", "tables")] == []


def test_the_page_names_the_rules_that_the_code_uses():
    page = (DOCS / "plan.md").read_text("utf-8")
    for start, table in (("| scald ratio", USUAL_RATIO), ("| increase", USUAL_INCREASE)):
        row = next(line for line in page.splitlines() if line.startswith(start))
        assert [float(cell) for cell in row.split("|")[2:5]] == [float(value) for value in table.values()]


def test_every_option_that_the_page_names_exists():
    page = (DOCS / "plan.md").read_text("utf-8")
    options = {flag for parameter in command.params for flag in parameter.opts}
    assert set(re.findall(r"--[a-z][a-z-]+", page)) - options == set()
