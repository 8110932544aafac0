"""The room board."""

from labkit.board.electrical import (
    Actor,
    Coil,
    ContactRule,
    ControllerFeed,
    Electrical,
    Fuse,
    InputChannel,
    InputLimits,
    Lamp,
    Motor,
    OutputChannel,
    Sensor,
)
from labkit.board.errors import BoardError, BoardFileError, Slip, WiringError
from labkit.board.wiring import Wire, Wiring

__all__ = [
    # errors
    "BoardError",
    "BoardFileError",
    "Slip",
    "WiringError",
    # wiring
    "Wire",
    "Wiring",
    # the network
    "Actor",
    "Coil",
    "ContactRule",
    "ControllerFeed",
    "Electrical",
    "Fuse",
    "InputChannel",
    "InputLimits",
    "Lamp",
    "Motor",
    "OutputChannel",
    "Sensor",
]
