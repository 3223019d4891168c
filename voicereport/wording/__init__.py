"""What was said, in written form: numbers, quantities, identifiers, and the repair of trade words."""

from voicereport.wording.repair import repair

__all__ = ["repair"]
