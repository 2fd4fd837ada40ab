"""What the shop refuses."""


class Refusal(Exception):  # noqa: N818 - the word of the trade: the shop refuses, nothing has failed
    """What cannot be done: a stable code, a sentence for the person, and the form field it belongs beside."""

    def __init__(self, code: str, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence
        self.field = field
