"""What all tables of a plan file share: how strictly they are read, and text on one line; imported only for reading."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["LABEL", "LONG", "ONE_LINE", "PROTOCOL_NAME", "Label", "Sentence", "Table", "Text"]

ONE_LINE = r"^[^\p{Cc}\s](?:\P{Cc}*[^\p{Cc}\s])?$"
"""Text without line breaks and without spaces around it."""

LABEL = r"^[A-Za-z0-9]+$"
"""Label of a BIDS dataset."""

PROTOCOL_NAME = r"^[a-z0-9]+(?:-[a-z0-9]+)*$"
"""Name of a published programme."""

LONG = 1000
"""Most characters of a sentence."""

Text = Annotated[str, Field(pattern=ONE_LINE, max_length=200)]
Sentence = Annotated[str, Field(pattern=ONE_LINE, max_length=LONG)]
Label = Annotated[str, Field(pattern=LABEL, max_length=64)]


class Table(BaseModel):
    """A table that takes known fields only, each of its own kind."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, frozen=True)
