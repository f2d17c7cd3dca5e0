"""Which part gives first as the pin gets harder, and where that changes."""

from fejoint.pin_range.crossings import Crossing
from fejoint.pin_range.point import PinPoint
from fejoint.pin_range.study import PinRange, pin_range

__all__ = ["Crossing", "PinPoint", "PinRange", "pin_range"]
