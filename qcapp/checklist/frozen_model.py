"""Base of what is read from a file, with the values that its fields hold."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StrictFloat, StrictInt, StringConstraints

ID_PATTERN = r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$"
Id = Annotated[str, StringConstraints(pattern=ID_PATTERN, max_length=60)]
Text = dict[str, str]  # language -> words; "en" is always there
# Within a thousand million both sides hold it exactly; not-a-number and infinity never get in.
Number = Annotated[StrictInt | StrictFloat, Field(ge=-(10**9), le=10**9, allow_inf_nan=False)]


class FrozenModel(BaseModel):
    """Base of what is read from a file: never changed, and a key it does not know is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid")
