"""What a file needs beside its own bytes to survive a power cut."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def sync_folder(folder: Path) -> None:
    """Make the names of new files in a folder survive a power cut.

    Raises:
        OSError: the file system cannot.
    """
    number = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
