"""What is asked in the barn, and a find that is sent from there."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, StringConstraints

from api.models.shared import Amount, Asked, Day
from valuation.answers.barn_finds import Find
from valuation.schema.values import Value

KEY = r"^[a-z0-9]{8,20}$"
"""Of a find, made at random where it is kept."""
Word = Annotated[str, StringConstraints(max_length=100)]
MOST_REMARK = 1000
"""Characters of a remark: whose it is and where it stands, not its story."""
MOST_PHOTO = 12_000_000
"""Characters of a photograph in base64: twice what the barn's page makes of one."""


class FindSent(Asked):
    """A find that was kept in the barn."""

    key: Annotated[str, StringConstraints(pattern=KEY)]
    attributes: dict[str, Word | float | bool] = Field(max_length=100, description="As found, by the schema's names.")
    found_on: Day
    asked: Amount | None = Field(None, description="What its owner asks, in the table's currency.")
    remark: str = Field("", max_length=MOST_REMARK)
    photo: str = Field("", max_length=MOST_PHOTO, description="A picture in base64.")

    def find(self) -> Find:
        """The same as the library has it."""
        attributes: dict[str, Value] = dict(self.attributes)
        return Find(self.key, attributes, self.found_on, self.asked, self.remark)
