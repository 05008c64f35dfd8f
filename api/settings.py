"""Settings of the service: one checked class, read from the environment by name (``VALUATION_...``)."""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Self

from pydantic import BaseModel, ConfigDict, Field, SecretStr, field_validator, model_validator

from valuation.answers.tables import LEDGER_NAME
from valuation.text.locale import locale_from

PREFIX = "VALUATION_"
DEMO_FOLDER = Path(__file__).parents[1] / "data"


class Settings(BaseModel):
    """What the service may do and how it shows figures.

    Each field is read from the environment variable ``VALUATION_`` and its name in capitals. Nothing is assumed about
    currency or place.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    ledger: str = Field(LEDGER_NAME, description="File or database URL of the ledger.")
    host: str = Field("127.0.0.1", description="Address to listen on; beyond loopback a token is needed.")
    port: int = Field(8321, ge=1, le=65535, description="Port to listen on.")
    token: SecretStr = Field(SecretStr(""), description="Password of pages and bearer token of the JSON service.")
    allowed_hosts: tuple[str, ...] = Field((), description="Host names, beside loopback, that requests may name.")
    secure_cookies: bool = Field(False, description="Set when the service is reached by HTTPS only.")
    max_upload_bytes: int = Field(20_000_000, ge=1_000, description="Largest request, bytes.")
    max_rows: int = Field(50_000, ge=1, description="Most rows of an uploaded table.")
    max_cells: int = Field(1_500_000, ge=1, description="Most cells of an uploaded table.")
    work_seconds: float = Field(120.0, gt=0, le=3600, description="Longest that one piece of work may take.")
    workers: int = Field(2, ge=1, le=16, description="Pieces of long work done at once.")
    queue_length: int = Field(32, ge=1, le=1000, description="Pieces of long work that may wait for their turn.")
    currency: str = Field("", max_length=12, description="Currency of new tables that name none; empty: none assumed.")
    locale: str = Field("international", description="How money, dates and numbers are written.")
    demo_folder: Path = Field(DEMO_FOLDER, description="Folder of the demo's table, schema, vehicles and plans.")

    @field_validator("allowed_hosts", mode="before")
    @classmethod
    def _split(cls, value: Any) -> Any:
        return tuple(part.strip() for part in value.split(",") if part.strip()) if isinstance(value, str) else value

    @field_validator("host")
    @classmethod
    def _plain_host(cls, value: str) -> str:
        if not value.strip():
            raise ValueError("The host to listen on is empty. Write 127.0.0.1 for this computer alone.")
        return value.strip()

    @field_validator("locale")
    @classmethod
    def _known_locale(cls, value: str) -> str:
        return locale_from(value).name

    @model_validator(mode="after")
    def _guarded(self) -> Self:
        if not is_loopback(self.host) and len(self.token.get_secret_value()) < 12:
            raise ValueError(
                f"Cannot listen on {self.host!r}: it can be reached from other computers and no token of 12 characters "
                "or more is set. Set VALUATION_TOKEN, or listen on 127.0.0.1."
            )
        return self

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] | None = None) -> Settings:
        """Settings from variables such as ``VALUATION_PORT``; those that are not set keep their defaults.

        Raises
        ------
        pydantic.ValidationError
            If a variable is not what its field accepts, or the service would be open without a token.
        """
        found = os.environ if environment is None else environment
        given = {name: found[PREFIX + name.upper()] for name in cls.model_fields if PREFIX + name.upper() in found}
        return cls.model_validate(given)


def is_loopback(host: str) -> bool:
    """Whether an address or name can only be reached from this computer.

    Examples
    --------
    >>> is_loopback("127.0.0.1"), is_loopback("::1"), is_loopback("localhost"), is_loopback("0.0.0.0")
    (True, True, True, False)
    """
    if host.casefold() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
