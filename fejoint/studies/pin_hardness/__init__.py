"""Which part gives first as the pin gets harder, and where that changes."""

from fejoint.studies.pin_hardness.crossings import Crossing
from fejoint.studies.pin_hardness.point import PinPoint
from fejoint.studies.pin_hardness.study import PinRange, pin_range

__all__ = ["Crossing", "PinPoint", "PinRange", "pin_range"]
