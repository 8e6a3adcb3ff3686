"""Loads the layout file that stands beside a module, once."""

from __future__ import annotations

from pathlib import Path

from kivy.lang import Builder


def load(module_file: str) -> None:
    """Load ``name.kv`` for ``name.py`` by its absolute path; a second time would apply its rules twice."""
    path = str(Path(module_file).resolve().with_suffix(".kv"))
    if path not in Builder.files:
        Builder.load_file(path)
