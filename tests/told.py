"""The made-up studio for tests: built once a run by the demo's own stories, with one photo, copied for each test."""

from datetime import date

from app.demo.album import SCENES
from app.demo.build import Cast, build_demo
from app.demo.photos import render
from app.platform.service import Service

ON = date(2026, 3, 16)
SCENE = "forearm before"


def tell(service: Service, passwords: dict[str, str]) -> Cast:
    """Six clients in six states, as they stand on the day of the tests; one photo, of the first."""
    return build_demo(service, say=lambda _: None, album={SCENE: render(SCENES[SCENE])}, on=ON, passwords=passwords)


