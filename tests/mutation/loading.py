"""Loads one product module with a fault in it, whoever imports it."""

from __future__ import annotations

import importlib.abc
import importlib.util
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import types
    from pathlib import Path


class Faulty(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Put first into ``sys.meta_path`` before anything of ours is loaded."""

    def __init__(self, path: Path, name: str, code: types.CodeType) -> None:
        self._path = path
        self._name = name
        self._code = code

    def find_spec(self, name, path=None, target=None):
        """Of the one module."""
        if name != self._name:
            return None
        return importlib.util.spec_from_file_location(name, self._path, loader=self)

    def exec_module(self, module: types.ModuleType) -> None:
        """With the fault."""
        exec(self._code, vars(module))
