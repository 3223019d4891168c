"""The commands. Each handler parses, calls, prints; heavy imports wait until a command needs them."""

from voicereport.cli.app import main

__all__ = ["main"]
