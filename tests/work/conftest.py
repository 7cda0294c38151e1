"""What several tests of measuring many photos look at; made once and never changed by a test."""

from pathlib import Path

import pytest
from few_tasks import shared_of, tasks_of

from sproutlapse.work.engine import Shared, Told, measure_photo


@pytest.fixture(scope="session")
def shared(few_photos: Path) -> Shared:
    """What the eleven photos are compared with."""
    return shared_of(few_photos)


@pytest.fixture(scope="session")
def alone(few_photos: Path, shared: Shared) -> dict[str, Told]:
    """What each of them tells when it is measured alone, by photo."""
    return {task.frame: measure_photo(task, shared) for task in tasks_of(few_photos)}
