"""The head of every page of a vehicle: picture, name and stage, what it is worth, and the way to its other pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from api.problems import not_found
from valuation.answers.story import SectionKey, VehicleStory, story_of
from valuation.answers.vehicle_file import VehicleFile, vehicle_file

if TYPE_CHECKING:
    from api.desk import Desk

PAGES: dict[SectionKey, str] = {
    "what": "",
    "worth": "/worth",
    "pay": "/pay",
    "plan": "/plans",
    "work": "/work",
    "ask": "/price",
    "offers": "/price#offers",
    "paper": "/paper",
    "sale": "/price#sale",
}
"""Where each part of a vehicle's story is done, behind the vehicle's own address."""
TABS = (
    ("", "Its story"),
    ("/worth", "Worth"),
    ("/plans", "Plans"),
    ("/pay", "What to pay"),
    ("/work", "Work"),
    ("/price", "Price and offers"),
    ("/paper", "Paper"),
    ("/photos", "Photographs"),
)
"""The pages of a vehicle: address behind its own, and name."""


@dataclass(frozen=True)
class Part:
    """One part of a vehicle's story as a link.

    Attributes
    ----------
    key, title, state, outcome : str
        As ``Section``.
    address : str
    """

    key: str
    title: str
    state: str
    outcome: str
    address: str


@dataclass(frozen=True)
class VehicleHead:
    """What stands at the head of every page of a vehicle.

    Attributes
    ----------
    number : int
    key, name : str
        Its key in the ledger, and what it is called.
    stage : str
    archived : bool
    sentence : str
        What it is worth.
    picture : str
        Address of its first photograph; empty without one.
    address : str
        Of its story.
    tabs : tuple of (str, str)
        Address and name of each of its pages.
    sections : tuple of Part
        Its story, part by part.
    next_address, next_text : str
        The one thing to do next.
    """

    number: int
    key: str
    name: str
    stage: str
    archived: bool
    sentence: str
    picture: str
    address: str
    tabs: tuple[tuple[str, str], ...]
    sections: tuple[Part, ...]
    next_address: str
    next_text: str


def vehicle_head(desk: Desk, subject: str) -> VehicleHead:
    """The head of a vehicle's pages.

    Parameters
    ----------
    desk : Desk
    subject : str
        The vehicle's key.
    """
    return head_of(desk, vehicle_file(desk, subject))


def head_of(desk: Desk, file: VehicleFile) -> VehicleHead:
    """The head of the pages of a vehicle whose file is at hand.

    Parameters
    ----------
    desk : Desk
    file : VehicleFile
    """
    told: VehicleStory = story_of(desk, file)
    own = f"/vehicles/{told.number}"
    return VehicleHead(
        number=told.number,
        key=told.subject,
        name=told.name,
        stage=told.stage,
        archived=told.archived,
        sentence=told.sentence,
        picture=photo_address(file.photos[0].first) if file.photos else "",
        address=own,
        tabs=tuple((f"{own}{end}", name) for end, name in TABS),
        sections=tuple(
            Part(one.key, one.title, one.state, one.outcome, section_address(told.number, one.key))
            for one in told.sections
        ),
        next_address=section_address(told.number, told.next.section),
        next_text=told.next.text,
    )


def file_numbered(desk: Desk, number: int) -> VehicleFile:
    """The file of the vehicle of that number; a refusal with status 404 when there is none.

    Parameters
    ----------
    desk : Desk
    number : int
        Of its first record in the ledger.
    """
    from valuation.ledger import VehicleRecord

    subject = desk.record(VehicleRecord, number).subject
    there = desk.ledger.vehicle_of(subject)
    if there is None or there.first != number:
        raise not_found(f"vehicle {number}")
    return vehicle_file(desk, subject)


def vehicle_address(desk: Desk, subject: str) -> str:
    """Address of a vehicle's story.

    Parameters
    ----------
    desk : Desk
    subject : str
        The vehicle's key.
    """
    from valuation.answers.vehicle_file import vehicle_kept

    return f"/vehicles/{vehicle_kept(desk.ledger, subject).first}"


def section_address(number: int, key: SectionKey) -> str:
    """Address at which a part of a vehicle's story is done.

    Parameters
    ----------
    number : int
        Of the vehicle.
    key : str
        Of the part.
    """
    return f"/vehicles/{number}{PAGES[key]}"


def photo_address(number: int) -> str:
    """Address of a photograph's file.

    Parameters
    ----------
    number : int
        Of the photograph's first record.
    """
    return f"/photos/{number}.jpg"
