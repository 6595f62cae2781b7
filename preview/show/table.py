"""The base of every table in a show file, and the number types that its keys use."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(allow_inf_nan=False)]
Percent = Annotated[float, Field(ge=0, le=100)]


class Table(BaseModel):
    """Base of every table in a show file."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)
