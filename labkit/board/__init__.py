"""Parts, terminals and wires as data, and the electrical network that a wired board is.

Must not know: programs, time, notebooks. Nothing here moves; a position is a value that somebody hands in.

What a reader wants first: :func:`load_board` (``load_board("orchard")`` is parts, points and wiring),
:func:`electrify` (that board, wired, as a circuit with the list of what moves in it), and
:func:`check_wiring` (what is wrong with a wiring, judged by solving it). Start reading at ``boards.py``,
then ``electrify.py``.
"""

from labkit.board._files import (
    board_names,
    conductors,
    dumps_board,
    dumps_wiring,
    dumps_wiring_csv,
    load_board,
    load_wiring,
    loads_board,
    loads_catalogue,
    loads_wiring,
    loads_wiring_csv,
    parts_catalogue,
    save_board,
    save_wiring,
)
from labkit.board._given import board_given, wiring_given
from labkit.board.boards import Block, Board, MustBeDead, Part, Point, Terminal
from labkit.board.catalogue import (
    AuxBlock,
    Bar,
    Breaker,
    CatalogueEntry,
    CoilData,
    Contact,
    ContactorPart,
    ControllerPart,
    FusePart,
    HornPart,
    InputGroup,
    InputKind,
    LampPart,
    MotorPart,
    OutputGroup,
    OutputKind,
    OverloadPart,
    SensorPart,
    StripPart,
    SupplyPart,
    SuppressorPart,
    SwitchPart,
)
from labkit.board.checks import check_wiring
from labkit.board.conductors import Conductor, Conductors
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
from labkit.board.electrify import electrify
from labkit.board.errors import BoardError, BoardFileError, Slip, WiringError
from labkit.board.findings import Finding
from labkit.board.lists import IoRow, WireListRow, io_list, io_list_csv, wire_list, wire_list_csv
from labkit.board.plugs import Plug, PlugRow, Seat, why_not
from labkit.board.standards import COLOURS, LETTERS, contact_form
from labkit.board.wiring import Wire, Wiring

__all__ = [
    # files
    "board_names",
    "conductors",
    "dumps_board",
    "dumps_wiring",
    "dumps_wiring_csv",
    "load_board",
    "load_wiring",
    "loads_board",
    "loads_catalogue",
    "loads_wiring",
    "loads_wiring_csv",
    "parts_catalogue",
    "save_board",
    "save_wiring",
    # what is handed over
    "board_given",
    "wiring_given",
    # boards
    "Block",
    "Board",
    "MustBeDead",
    "Part",
    "Point",
    "Terminal",
    # the parts catalogue
    "AuxBlock",
    "Bar",
    "Breaker",
    "CatalogueEntry",
    "CoilData",
    "Contact",
    "ContactorPart",
    "ControllerPart",
    "FusePart",
    "HornPart",
    "InputGroup",
    "InputKind",
    "LampPart",
    "MotorPart",
    "OutputGroup",
    "OutputKind",
    "OverloadPart",
    "SensorPart",
    "StripPart",
    "SupplyPart",
    "SuppressorPart",
    "SwitchPart",
    # checks
    "Finding",
    "check_wiring",
    # conductors
    "Conductor",
    "Conductors",
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
    # from a board to its network
    "electrify",
    # errors
    "BoardError",
    "BoardFileError",
    "Slip",
    "WiringError",
    # lists
    "IoRow",
    "WireListRow",
    "io_list",
    "io_list_csv",
    "wire_list",
    "wire_list_csv",
    # plug-on terminal blocks
    "Plug",
    "PlugRow",
    "Seat",
    "why_not",
    # standards
    "COLOURS",
    "LETTERS",
    "contact_form",
    # wiring
    "Wire",
    "Wiring",
]
