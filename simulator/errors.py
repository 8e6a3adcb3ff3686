"""Errors the simulator raises on purpose; its own, because it imports nothing of the tool.

SimulatorError           exit code 1; always carries one plain sentence for a person
├── Misunderstood        exit code 2: a request, an argument or a scenario makes no sense
└── Forbidden            exit code 3: the simulator never does this
"""

from __future__ import annotations


class SimulatorError(Exception):
    """Base of every error raised on purpose. ``str()`` is one sentence."""

    exit_code = 1


class Misunderstood(SimulatorError):
    """A request, an argument or a scenario makes no sense."""

    exit_code = 2


class Forbidden(SimulatorError):
    """The simulator never does this, whoever asks."""

    exit_code = 3
