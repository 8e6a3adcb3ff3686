"""``python -m simulator``: the same as ``boathook simulate``."""

from __future__ import annotations

import argparse
import sys

from simulator import command

parser = argparse.ArgumentParser("python -m simulator", description="A simulated craft on a bus of its own.")
command.add_arguments(parser)
sys.exit(command.run(parser.parse_args()))
