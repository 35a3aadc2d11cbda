"""Files of this program's own making, brought to the disk whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from pointmodel.base.errors import InputError, Problem
from pointmodel.base.trace import passing_over


def write_whole(path: Path, data: bytes) -> Path:
    """Write bytes to `path` in one step and return the path; missing folders are made.

    Whether what stands there may be replaced is the caller's to ask. Raises InputError where the
    system refuses.
    """
    beside = path.with_name(f".pointmodel-{secrets.token_hex(4)}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(data)
        os.replace(beside, path)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise refusal(path, why, "a place to write to") from error
    finally:
        with passing_over(OSError, ValueError):
            beside.unlink(missing_ok=True)
    return path


def refusal(path: Path, found: str, wanted: str) -> InputError:
    """The error that tells of one file, as a whole."""
    return InputError([Problem(str(path), None, None, found, wanted)])
