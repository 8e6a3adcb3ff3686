"""Families shipped with the tool: one folder each with ``signals.dbc`` and ``family.toml``; data, no code."""
