"""What the plan page says of a line, a step and a dose, in words."""

from django.utils import timezone

from clinic.care.days import day_of, on_day
from clinic.care.models import DoseGiven, PlanLine, PlanProgress
from clinic.care.plan_rows import DoseRow


def consent_words(line: PlanLine) -> str:
    how = f", {line.get_consent_how_display()}" if line.consent_how else ""
    estimate = f", estimate {line.get_estimate_display()}" if line.estimate else ""
    return f"agreed: {line.consent_by}{how}{estimate}"


def dose_row(each: DoseGiven) -> DoseRow:
    at = timezone.localtime(each.given_at)
    lot = f", lot {each.lot}" if each.lot else ""
    until = f", usable until {on_day(each.expires_on)}" if each.expires_on else ""
    note = f": {each.note}" if each.note else ""
    struck = ""
    if each.struck_at and each.struck_by:
        struck = f"struck out {day_of(each.struck_at)}, {each.struck_by.full_name}: {each.struck_reason}"
    words = (
        f"{each.amount} given {on_day(at.date())}, {at:%H:%M}, {each.given_by.full_name}{lot}{until}{note}"
    )
    return DoseRow(each.pk, words, struck)


def decline_parts(line: PlanLine) -> list[str]:
    parts = [f"the owner’s reason: {line.declined_why}"]
    if line.explained_by:
        parts.append(f"risks explained by {line.explained_by.full_name}: {line.risks_explained}")
    if line.alternative:
        parts.append(f"agreed instead: {line.alternative}")
    if line.come_back:
        parts.append(f"to come back: {line.come_back}")
    if line.signed_by_owner:
        parts.append("the owner signed")
    if line.offer_again_on:
        parts.append(f"offered again on {on_day(line.offer_again_on)}")
    return parts


def step_words(step: PlanProgress) -> str:
    who = f", {step.answerable.full_name}" if step.answerable else ""
    due = f" by {on_day(step.due_on)}" if step.due_on else ""
    note = f": {step.note}" if step.note else ""
    return f"{day_of(step.at)}, {step.by.full_name}: {step.get_standing_display()}{who}{due}{note}"
