"""Letters, numbers and colours of the standards that a board's data is held against.

The test that walks the parts catalogue takes its rules from the reference tables under ``tests/truth``,
not from here; this is what the checks and messages of the room itself need.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

__all__ = ["COLOURS", "LETTERS", "contact_form"]

# Class letters of IEC 81346-2, in own words (from memory), but for four older ones that most drawings still carry:
# A for a controller (now K), G for a supply from the mains (now T), K for a power contactor (now Q, and Q names
# outputs here), V for semiconductors (now R).
LETTERS: Mapping[str, str] = MappingProxyType(
    {
        "A": "two or more purposes: a controller",
        "B": "turns a measured quantity into a signal: a sensor",
        "F": "protects: breaker, fuse, overload relay",
        "G": "gives a supply",
        "K": "switches or processes signals: relay, contactor",
        "M": "gives mechanical energy: a motor",
        "P": "shows or sounds: lamp, horn",
        "S": "turns a hand's act into a signal: switch, button",
        "V": "semiconductor part (older letter): suppressor",
        "X": "joins conductors: terminals",
    }
)

# IEC 60757 letter codes (from memory), and LBU for the light blue lead of a sensor (60757 has one blue only).
COLOURS: Mapping[str, str] = MappingProxyType(
    {
        "BK": "black",
        "BN": "brown",
        "RD": "red",
        "OG": "orange",
        "YE": "yellow",
        "GN": "green",
        "BU": "blue",
        "LBU": "light blue",
        "VT": "violet",
        "GY": "grey",
        "WH": "white",
        "PK": "pink",
        "TQ": "turquoise",
        "GNYE": "green and yellow",
        "WHBU": "white with blue",
    }
)

_FORMS = {("1", "2"): "NC", ("3", "4"): "NO", ("5", "6"): "NC", ("7", "8"): "NO"}


def contact_form(a: str, b: str) -> str:
    """NC or NO by the function digits of two terminal numbers (EN 50005); ``""`` if they are no contact.

    Examples
    --------
    >>> contact_form("11", "12"), contact_form("13", "14"), contact_form("95", "96")
    ('NC', 'NO', 'NC')
    """
    if len(a) == len(b) == 2 and a.isdigit() and b.isdigit() and a[0] == b[0]:
        return _FORMS.get((a[1], b[1]), "")
    return ""
