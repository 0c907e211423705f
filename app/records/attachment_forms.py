from typing import Annotated

from pydantic import Field, StringConstraints

from app.platform.forms import BLANK_IS_NONE, Form, OptionalDay, OptionalText

Short = Annotated[OptionalText, StringConstraints(max_length=200)]


class FileLetter(Form):
    """What whoever files a letter may say about it without opening it; the file comes beside it."""

    client_id: Annotated[int, Field(ge=1, le=2147483647)]
    case_id: Annotated[Annotated[int, Field(ge=1, le=2147483647)] | None, BLANK_IS_NONE] = None
    from_whom: Short = ""


class ReadLetter(Form):
    """What an artist who read a letter says of it."""

    from_whom: Short = ""
    dated_on: OptionalDay = None
    expires_on: OptionalDay = None
    note: Annotated[OptionalText, StringConstraints(max_length=2000)] = ""
