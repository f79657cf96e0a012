from datetime import date

from django.urls import URLPattern, path, register_converter

from clinic.visits.views import (
    booking,
    bookings,
    chips,
    intake,
    intake_home,
    put_right,
    signing,
    steps,
    today,
)


class IsoDay:
    """2026-03-11."""

    regex = r"\d{4}-\d{2}-\d{2}"

    def to_python(self, value: str) -> date:
        return date.fromisoformat(value)

    def to_url(self, value: date | str) -> str:
        return str(value)


register_converter(IsoDay, "iso_day")

urlpatterns: list[URLPattern] = [
    path("", today.today, name="today"),
    path("check-in/", today.check_in, name="check-in"),
    path("visits/<int:visit_id>/move/", steps.move, name="visit-move"),
    path("visits/<int:visit_id>/home/", steps.go_home, name="visit-home"),
    path("visits/<int:visit_id>/see-now/", steps.see_now, name="see-now"),
    path("visits/<int:visit_id>/see-now/take/", steps.take_see_now, name="see-now-take"),
    path("visits/<int:visit_id>/see-now/withdraw/", steps.withdraw_see_now, name="see-now-withdraw"),
    path("visits/<int:visit_id>/kind/", steps.kind, name="visit-kind"),
    path("visits/<int:visit_id>/next/", booking.next_visit, name="next-visit"),
    path("next-visits/<int:next_visit_id>/cancel/", booking.cancel_next_visit, name="next-visit-cancel"),
    path("days/", bookings.day, name="day-today"),
    path("days/<iso_day:day>/", bookings.day, name="day"),
    path("bookings/<int:booking_id>/", bookings.booking, name="booking"),
    path("next-visits/<int:next_visit_id>/", bookings.planned, name="next-visit-change"),
    path("next-visits/<int:next_visit_id>/calendar.ics", bookings.calendar, name="next-visit-calendar"),
    path("patients/<int:patient_id>/book/", booking.book, name="visit-book"),
    path("visits/<int:visit_id>/intake/", intake.page, name="visit-intake"),
    path("visits/<int:visit_id>/intake/why/", intake.why, name="intake-why"),
    path("visits/<int:visit_id>/intake/changes/", intake.changes, name="intake-changes"),
    path("visits/<int:visit_id>/intake/food/", intake_home.food, name="intake-food"),
    path("visits/<int:visit_id>/intake/home/", intake_home.home, name="intake-home"),
    path("visits/<int:visit_id>/intake/given/", intake.given, name="intake-given"),
    path("visits/<int:visit_id>/intake/given/<int:given_id>/out/", intake.given_out, name="intake-given-out"),
    path("visits/<int:visit_id>/intake/heads-up/", intake.heads_up, name="intake-heads-up"),
    path("visits/<int:visit_id>/intake/chip/", chips.scan, name="intake-chip"),
    path("visits/<int:visit_id>/wrong-patient/", put_right.wrong_patient, name="wrong-patient"),
    path("visits/<int:visit_id>/sign/", signing.sign, name="visit-sign"),
    path("visits/<int:visit_id>/sign/no-<str:what>/", signing.excuse, name="sign-excuse"),
    path("visits/<int:visit_id>/heads-up/<uuid:heads_up_id>/", signing.answer, name="heads-up-answer"),
    path("visits/<int:visit_id>/addenda/", signing.addenda, name="visit-addenda"),
]
