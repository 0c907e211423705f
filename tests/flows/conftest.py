"""Photos to upload, rendered once a run."""

from dataclasses import replace

import pytest

from app.demo.album import ARM
from app.demo.photos import Rendered, render


@pytest.fixture(scope="session")
def photo_before() -> Rendered:
    return render(ARM)


@pytest.fixture(scope="session")
def photo_settled() -> Rendered:
    """The same forearm a season later: most of the difference is gone."""
    return render(replace(ARM, scar_lab_d65=(41.0, 11.0, 15.3), visit=1))
