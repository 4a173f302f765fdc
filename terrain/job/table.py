"""What every table of a job file is."""

from pydantic import BaseModel, ConfigDict


class Table(BaseModel):
    """A table of the job file: unknown keys and loosely typed values are errors."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)
