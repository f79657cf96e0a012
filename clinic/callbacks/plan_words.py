"""With which plan's words a thing is written about, in the owner's language. Pure but for `in_force`."""

from collections.abc import Mapping
from dataclasses import dataclass

from clinic.callbacks.reminder_models import AskingPlan
from clinic.owner_page.texts import FIRST, texts


@dataclass(frozen=True)
class PlanWords:
    """`own`: by a plan's label (empty: the plan for all), then by language: words before, and after."""

    own: Mapping[str, Mapping[str, tuple[str, str]]]

    def of(self, label: str, language: str) -> tuple[str, str]:
        """The plan's of this kind, else of the plan for all; where it says nothing in this language, the
        usual sentences in it, so that no owner reads words in a language that is not theirs."""
        plan = self.own.get(label.split(": ")[0], self.own.get("", {}))
        if any(found := plan.get(language, ("", ""))) or language == FIRST:
            return found
        if not any(any(each) for each in plan.values()):
            return "", ""
        said = texts(language).reminder
        return said["usual_before"], said["usual_after"]


def words_of(plan: AskingPlan) -> dict[str, tuple[str, str]]:
    own = {FIRST: (plan.words_before, plan.words_after)}
    return own | {
        language: (str(each.get("before", "")), str(each.get("after", "")))
        for language, each in plan.words_in.items()
    }


def in_force() -> PlanWords:
    """One query."""
    rows = AskingPlan.objects.filter(approved_at__isnull=False, ended_at=None)
    return PlanWords({each.what: words_of(each) for each in rows})
