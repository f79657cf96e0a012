"""What a change of the medicine list may refuse; each message is one sentence for the person at the desk."""

from clinic.care.errors import CareError
from clinic.care.listed_models import IngredientKinds, ListedMedicine


class NameStands(CareError):
    """A medicine of this name is on the list, or was: `row`."""

    field = "name"

    def __init__(self, row: ListedMedicine) -> None:
        self.row = row
        where = "was taken off the list: put it back instead" if row.off_at else "stands on the list already"
        super().__init__(f"“{row.name}” {where}.")


class ListChanged(CareError):
    """Somebody changed the row after it was looked at; `row` is what it is now."""

    def __init__(self, row: ListedMedicine) -> None:
        self.row = row
        super().__init__(
            f"Meanwhile {row.changed_by.full_name} changed this medicine. Nothing of yours was kept yet."
        )


class KindsChanged(CareError):
    """Somebody said the ingredient's kinds after they were looked at; `row` is what they said."""

    def __init__(self, row: IngredientKinds) -> None:
        self.row = row
        super().__init__(f"Meanwhile {row.by.full_name} said which kinds {row.ingredient} is of.")


class NotAKind(CareError):
    """Kinds come from the closed list."""

    def __init__(self, ingredient: str) -> None:
        super().__init__(f"Choose the kinds of {ingredient} from the list.")
