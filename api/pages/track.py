"""Not there yet."""

from fastapi import APIRouter

router = APIRouter()
