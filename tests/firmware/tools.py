"""Finding the tools that the firmware's tests need, and building with them."""

import ctypes.util
import os
import shutil
import subprocess
from pathlib import Path

import pytest

NODE = Path(__file__).parents[2] / "firmware_notes" / "node"
PORTABLE = ("frame.c", "command.c", "lease.c", "cutout.c", "probe.c", "node.c")
ALL_TOOLS = "HOLDCTL_ALL_TOOLS"
"""Environment variable: when it is 1, a missing tool is a failure and nothing is skipped."""


def need(found: object, package: str) -> None:
    """Skip with one line unless `found`; fail where all tools are promised."""
    if found:
        return
    words = f"the Debian package {package} is not installed"
    if os.environ.get(ALL_TOOLS) == "1":
        pytest.fail(f"{words}, but {ALL_TOOLS}=1 promises it")
    pytest.skip(words)


def need_emulator() -> None:
    need(shutil.which("cc"), "gcc")
    need(shutil.which("make"), "make")
    need(shutil.which("avr-gcc"), "gcc-avr")
    need(Path("/usr/lib/avr/include/avr/io.h").exists(), "avr-libc")
    need(ctypes.util.find_library("simavr"), "libsimavr2")


def build_node(folder: Path, *flags: str) -> Path:
    """Build the firmware for the chip and return its ELF file. Warnings are errors there."""
    _run("make", "-C", str(NODE), f"OUT={folder}", f"EXTRA={' '.join(flags)}")
    return folder / "node.elf"


def build_portable(folder: Path) -> Path:
    """Build the portable part for this machine, with sanitizers, and return the program."""
    need(shutil.which("cc"), "gcc")
    program = folder / "portable"
    sources = [str(NODE / name) for name in PORTABLE] + [str(Path(__file__).with_name("portable.c"))]
    strict = ["-std=gnu11", "-Wall", "-Wextra", "-Werror", "-O1", "-g", f"-I{NODE}"]
    checks = ["-fsanitize=address,undefined", "-fno-sanitize-recover=all"]
    _run("cc", *strict, *checks, "-o", str(program), *sources, "-lm")
    return program


def _run(*words: str) -> None:
    done = subprocess.run(words, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
