"""Small types that routes share: bounded ids, and the service behind a request."""

from typing import Annotated

from fastapi import Depends, Path, Request

from app.platform.rows import MAX_ID
from app.platform.service import Service

Id = Annotated[int, Path(ge=1, le=MAX_ID)]


def _service(request: Request) -> Service:
    service = request.app.state.service
    assert isinstance(service, Service)
    return service


Here = Annotated[Service, Depends(_service)]
