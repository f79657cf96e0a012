"""What making a summary may refuse; each message is one sentence for the clinician."""

from clinic.visits.errors import NeedsWords


class NoConsentYet(NeedsWords):
    """Asked before anything leaves the house: has the owner agreed?"""

    def __init__(self, to_whom: str) -> None:
        super().__init__(
            "consent",
            f"Has the owner agreed that this goes to {to_whom}? Choose the consent that was noted, "
            "note it now, or say why it goes without.",
        )
