"""Controllers: family profiles as data, tags and addresses, and a controller that scans when it is told to.

The room must not know boards, wiring, widgets or lessons, and has no clock: whoever drives a controller says what
happened and when, in whole microseconds.

Start with :func:`family` (a profile by name), :class:`TagTable` (names for points, and where a family keeps them),
and :class:`Controller` (``load``, ``power``, ``channel``, then ``read``, ``solve``, ``write``).
"""

from labkit.controller._files import FamilyError, dumps_family, families, family, load_family, loads_family
from labkit.controller._memory import FIRST_SCAN
from labkit.controller._phases import Phase, Timetable, timetable
from labkit.controller._tag_csv import dumps_tags, loads_tags
from labkit.controller.addresses import Address, AddressError, addresses, parse_address, print_address
from labkit.controller.controller import Controller, Image, OutputChange
from labkit.controller.errors import ControllerError, LoadError, Note
from labkit.controller.family import Family
from labkit.controller.moving import Difference, MappingRow, MappingSheet, Switch, differences, move, switches
from labkit.controller.tags import Tag, TagError, TagTable

__all__ = [
    # families
    "Family",
    "FamilyError",
    "dumps_family",
    "families",
    "family",
    "load_family",
    "loads_family",
    # addresses
    "Address",
    "AddressError",
    "addresses",
    "parse_address",
    "print_address",
    # tags
    "Tag",
    "TagError",
    "TagTable",
    "dumps_tags",
    "loads_tags",
    # moving to another family
    "Difference",
    "MappingRow",
    "MappingSheet",
    "Switch",
    "differences",
    "move",
    "switches",
    # the controller
    "FIRST_SCAN",
    "Controller",
    "ControllerError",
    "Image",
    "LoadError",
    "Note",
    "OutputChange",
    "Phase",
    "Timetable",
    "timetable",
]
