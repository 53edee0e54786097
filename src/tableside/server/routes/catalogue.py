"""What does not depend on a study."""

from fastapi import APIRouter

from tableside.server.catalogue import catalogue
from tableside.server.shapes.catalogue import Catalogue

router = APIRouter(prefix="/api", tags=["catalogue"])


@router.get("/catalogue")
def read_catalogue() -> Catalogue:
    """Return the quantities, labels and protocols."""
    return catalogue()
