"""Six made-up clients. A story yields the day and hour of its next step, counted back from today, and takes it then."""

from collections.abc import Callable, Iterator

from app.demo.hands import Hands, Step
from app.demo.new_stories import at_the_chair, undecided, waiting_for_a_letter
from app.demo.worked_stories import finished, ready_to_judge, settling

Story = Callable[[Hands], Iterator[Step]]
STORIES: tuple[Story, ...] = (finished, settling, ready_to_judge, waiting_for_a_letter, at_the_chair, undecided)
