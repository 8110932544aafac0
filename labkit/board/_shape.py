"""The base of every record that is read from a document: unknown keys are named, nothing is changed later."""

from __future__ import annotations

from typing import Annotated, ClassVar

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["Amps", "Microseconds", "Millimetres", "Ohms", "Record", "Volts"]

Volts = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Amps = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Ohms = Annotated[float, Field(gt=0, le=1e9, allow_inf_nan=False)]
Millimetres = Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False)]
Microseconds = Annotated[int, Field(ge=0, le=60_000_000)]


class Record(BaseModel):
    """A frozen record of a document."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="forbid", frozen=True, strict=False, str_max_length=500)
