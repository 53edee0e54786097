"""The signal that a file is none of a person's concern."""


class PassedOver(Exception):
    """A file that belongs to a medium or an archive and is no image: nothing to say.

    ``is_index`` marks the index of a medium, beside which other files belong to its viewer.
    """

    def __init__(self, *, is_index: bool = False) -> None:
        super().__init__()
        self.is_index = is_index
