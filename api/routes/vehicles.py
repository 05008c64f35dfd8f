"""Vehicles of the shop: the list, the story of each, what happened to it, and its photographs."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, File, Form, Query, UploadFile

from api.deps import Number, TheDesk
from api.models.vehicles import NewVehicle, PhotoAnswer, VehicleChangeAsked
from api.pages.vehicle_head import file_numbered, photo_address
from api.problems import Refusal, answers, not_found
from valuation.answers.story import ShopLine, VehicleStory, shop_lines, story
from valuation.answers.vehicle_change import VehicleChange, buy, call_vehicle, changes_of, offer_for_sale
from valuation.answers.vehicle_file import same_name, vehicle_files, vehicle_kept
from valuation.day import day_of
from valuation.ledger.records import PhotoRecord
from valuation.schema import parse_vehicle
from valuation.sheets.kept_photos import keep_photos, photo_numbered

router = APIRouter(prefix="/api/v1/vehicles", tags=["vehicles"])


@router.get("", response_model=list[ShopLine], responses=answers(409, 422), summary="Vehicles of the shop")
def list_vehicles(
    desk: TheDesk, archived: Annotated[bool, Query(description="Also those that were put away.")] = False
) -> list[ShopLine]:
    """By stage (found, in work, for sale, sold), with the one figure that matters and the next thing to do."""
    return [one for one in shop_lines(desk, vehicle_files(desk)) if archived or not one.archived]


@router.post(
    "", status_code=201, response_model=VehicleStory, responses=answers(404, 409, 422), summary="Keep a vehicle"
)
def add_vehicle(desk: TheDesk, asked: NewVehicle) -> VehicleStory:
    """Writes it as it was found; an estimate is a question of its own."""
    table = desk.table(asked.table)
    told = asked.model_dump(include={"name", "number", "attributes"})
    vehicle = parse_vehicle(told, desk.schema(table))
    if same_name(desk, vehicle.name) is not None:
        detail = f"Cannot keep a second vehicle called '{vehicle.name}'. Choose another name, or change that one."
        raise Refusal(409, "service.request", detail, where="name")
    vehicle_kept(
        desk.ledger,
        vehicle.name,
        number=vehicle.number,
        found=vehicle.as_dict()["attributes"],
        asked=asked.asked,
        currency=desk.comparables(table).currency,
        found_on=day_of(asked.found_on),
        remark=asked.remark,
    )
    return story(desk, vehicle.name)


@router.get("/{number}", response_model=VehicleStory, responses=answers(404, 409, 422), summary="A vehicle's story")
def one_vehicle(desk: TheDesk, number: Number) -> VehicleStory:
    """Where it stands, what came of each part of its life, and the next thing to do."""
    return story(desk, file_numbered(desk, number).subject)


@router.get(
    "/{number}/changes",
    response_model=list[VehicleChange],
    responses=answers(404, 409, 422),
    summary="What was changed about a vehicle",
)
def list_changes(desk: TheDesk, number: Number) -> list[VehicleChange]:
    """Oldest first, with what was replaced."""
    return list(changes_of(file_numbered(desk, number).vehicle))


@router.post(
    "/{number}/changes",
    status_code=201,
    response_model=VehicleStory,
    responses=answers(404, 409, 422),
    summary="Write what happened to a vehicle",
)
def change_vehicle(desk: TheDesk, number: Number, asked: VehicleChangeAsked) -> VehicleStory:
    """Bought, for sale, called otherwise, put away or brought back; one or several at once."""
    file = file_numbered(desk, number)
    if asked.name is not None:
        call_vehicle(desk, file.subject, asked.name)
    if asked.not_bought or asked.bought_for is not None or asked.bought_on is not None:
        price, day = (None, None) if asked.not_bought else (asked.bought_for, asked.bought_on)
        buy(desk, file.subject, price, day)
    if asked.not_for_sale or asked.for_sale_on is not None:
        offer_for_sale(desk, file.subject, asked.for_sale_on, stop=asked.not_for_sale)
    if asked.archived is not None:
        desk.ledger.show_as("vehicle", file.subject, archived=asked.archived)
    return story(desk, file.subject)


@router.get("/{number}/photos", responses=answers(404, 409, 422), summary="Photographs of a vehicle")
def list_photos(desk: TheDesk, number: Number) -> list[PhotoAnswer]:
    """In the order in which they came."""
    return [_shown(one) for one in file_numbered(desk, number).photos]


@router.post(
    "/{number}/photos", status_code=201, responses=answers(404, 409, 422), summary="Keep photographs of a vehicle"
)
def bring_photos(
    desk: TheDesk,
    number: Number,
    photos: Annotated[list[UploadFile], File(description="JPEG, PNG, WebP, TIFF, BMP or GIF.")],
    caption: Annotated[str, Form(max_length=200)] = "",
) -> list[PhotoAnswer]:
    """Made smaller and freed of hidden data; all of them or, where one cannot be used, none."""
    files = [(one.filename or "photograph", one.file.read()) for one in photos]
    return [_shown(one) for one in keep_photos(desk.ledger, file_numbered(desk, number).subject, files, caption)]


@router.post(
    "/{number}/photos/{photo}/changes",
    status_code=201,
    responses=answers(404, 409, 422),
    summary="Write other words under a photograph, or take it away",
)
def change_photo(
    desk: TheDesk,
    number: Number,
    photo: Number,
    caption: Annotated[str, Form(max_length=200)] = "",
    withdraw: Annotated[bool, Form(description="True: take it away.")] = False,
) -> list[PhotoAnswer]:
    """The photographs that are left."""
    desk.record(PhotoRecord, photo)
    subject, there = file_numbered(desk, number).subject, photo_numbered(desk.ledger, photo)
    if there is None or there.subject != subject:
        raise not_found(f"photograph {photo} of vehicle {number}")
    if withdraw:
        desk.ledger.withdraw(there, "taken away")
    else:
        desk.ledger.caption_photo(there, caption.strip())
    return [_shown(one) for one in desk.ledger.photos(subject)]


def _shown(photo: PhotoRecord) -> PhotoAnswer:
    return PhotoAnswer(
        number=photo.first,
        caption=photo.caption,
        width=photo.width,
        height=photo.height,
        file=photo_address(photo.first),
    )
