"""Pages that are made from tables stand as made; pages name what there is."""

import re
import runpy
from pathlib import Path

import pytest

from holdctl.cli import cli

ROOT = Path(__file__).parents[2]
PAGES = runpy.run_path(str(ROOT / "docs" / "make_pages.py"))["PAGES"]


@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_generated_page_is_what_the_code_says(name):
    assert (ROOT / "docs" / name).read_text("utf-8") == PAGES[name]()


def test_every_command_stands_in_the_readme():
    readme = (ROOT / "README.md").read_text("utf-8")
    assert [
        name for name in cli.commands if f"`{name}`" not in readme and f"holdctl {name}" not in readme
    ] == []


def test_every_link_between_pages_leads_somewhere():
    pages = [
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
        *(ROOT / "docs").glob("*.md"),
        ROOT / "firmware_notes/README.md",
    ]
    dead = [
        (page.name, link)
        for page in pages
        for link in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", page.read_text("utf-8"))
        if "://" not in link and not (page.parent / link).exists()
    ]
    assert dead == []


def test_the_top_level_holds_what_was_agreed_and_nothing_else():
    import subprocess

    listed = subprocess.run(["git", "-C", str(ROOT), "ls-files"], capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout: nothing tells project files from others")
    top = {name.split("/")[0] for name in listed.stdout.splitlines()}
    agreed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "holdctl",
        "firmware_notes",
        "tests",
        "sim",
        "docs",
    }
    assert {name for name in top if not name.startswith(".")} == agreed
