"""Faults put into copies of the program, one at a time: which do the tests notice?

    python tests/bench/faults.py                      # all of them
    python tests/bench/faults.py noise suspects       # those whose name holds one of these words

The faults stand in `fault_list.py`. Each is put into a copy of its own; the tests named are run
there, until one fails; what lived is told at the end, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.fault import Fault
from bench.fault_list import FAULTS

ROOT = Path(__file__).parents[2]
COPIED = ("pointmodel", "tests", "data", "reports", "pyproject.toml", "README.md", "DEVELOPERS.md")
AT_MOST_S = 900


def copy_of(root: Path, into: Path) -> None:
    """Copy what the tests need."""
    for name in COPIED:
        source = root / name
        if source.is_dir():
            ignored = shutil.ignore_patterns("__pycache__", "*.pyc")
            shutil.copytree(source, into / name, ignore=ignored)
        else:
            shutil.copy2(source, into / name)


def stands_once(fault: Fault) -> bool:
    """Whether the text that a fault takes the place of stands where it should."""
    return (ROOT / fault.file).read_text("utf-8").count(fault.old) == 1


def put_in(fault: Fault, root: Path) -> None:
    """Put a fault into a copy. Raises ValueError where its old text stands not once."""
    path = root / fault.file
    text = path.read_text("utf-8")
    if not stands_once(fault):
        raise ValueError(f"{fault.name}: the old text stands {text.count(fault.old)} times")
    path.write_text(text.replace(fault.old, fault.new), "utf-8")


def is_noticed(fault: Fault) -> bool:
    """Whether one of the tests named fails with the fault in place."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        copy_of(ROOT, root)
        put_in(fault, root)
        command = [
            sys.executable,
            "-m",
            "pytest",
            "-qx",
            "-n",
            "0",
            "-p",
            "no:cacheprovider",
            *fault.tests,
        ]
        ran = subprocess.run(
            command,
            cwd=root,
            env=os.environ | {"PYTHONPATH": str(root)},
            capture_output=True,
            text=True,
            timeout=AT_MOST_S,
        )
    if ran.returncode not in (0, 1):
        raise ValueError(f"{fault.name}: the tests did not run: {ran.stdout[-500:]}{ran.stderr}")
    return ran.returncode == 1


def main() -> int:
    """Put the faults in that were asked for; return 1 where one lived."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("words", nargs="*", help="left out: all faults")
    words = parser.parse_args().words
    asked = [f for f in FAULTS if not words or any(word in f.name for word in words)]
    lived = []
    for fault in asked:
        try:
            noticed = is_noticed(fault)
        except ValueError as error:
            print(error)
            noticed = False
        print(f"{'noticed' if noticed else 'LIVED'}: {fault.name}", flush=True)
        if not noticed:
            lived.append(fault.name)
    print(f"{len(asked) - len(lived)} of {len(asked)} noticed; lived: {lived or 'none'}")
    return 1 if lived else 0


if __name__ == "__main__":
    sys.exit(main())
