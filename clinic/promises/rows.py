"""How a step of a promise is said: with a shape's word, who and when."""

from django.utils import timezone

from clinic.promises.models import PromiseStep


def said(step: PromiseStep) -> str:
    """Dr Falk handed it to Dr Oduya, 11 March: “you know the dog”."""
    at = timezone.localtime(step.at)
    day = f"{at.day} {at:%B}"
    what = {
        PromiseStep.What.HANDED: f"handed it to {step.answerable.full_name if step.answerable else 'nobody'}",
        PromiseStep.What.MOVED: f"moved it from {step.due_was.day} {step.due_was:%B} "
        f"to {step.due_on.day} {step.due_on:%B}",
        PromiseStep.What.CLOSED: f"closed it, {step.get_outcome_display()}",
    }[PromiseStep.What(step.what)]
    return f"{step.by.full_name} {what}, {day}: “{step.words}”"
