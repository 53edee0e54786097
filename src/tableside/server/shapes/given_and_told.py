"""Parents of all shapes: what comes in is strict, what goes out is exact."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

MOST_PIXELS = 100_000.0


class Given(BaseModel):
    """Something a page sends; unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Told(BaseModel):
    """Something the server answers; every key is listed."""

    model_config = ConfigDict(extra="forbid", frozen=True)


Coordinate = Annotated[float, Field(ge=-0.5, le=MOST_PIXELS, allow_inf_nan=False)]
Pixel = Annotated[tuple[Coordinate, Coordinate], Field(description="x, y: pixel centres")]
ToldPoint = tuple[float, float]


class Problem(BaseModel):
    """RFC 9457 problem details. ``detail`` is one sentence for a person."""

    model_config = ConfigDict(extra="allow")

    type: str
    title: str
    status: int
    detail: str
