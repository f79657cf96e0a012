"""Every change of a visit, its record and what is planned next."""

from clinic.visits.actions.addenda import add_addendum, amend_right
from clinic.visits.actions.arrivals import check_in
from clinic.visits.actions.booking import (
    book,
    cancel_bookings,
    cancel_next_visit,
    expect_today,
    plan_next_visit,
)
from clinic.visits.actions.chips import scan_chip
from clinic.visits.actions.heads_ups import answer_heads_up, pin_heads_up
from clinic.visits.actions.history import (
    add_given_at_home,
    answer_history,
    answer_topics,
    excuse_bcs,
    excuse_weight,
    remove_given_at_home,
    say_why,
)
from clinic.visits.actions.home import tell_diet, tell_lifestyle
from clinic.visits.actions.places import go_home, move, set_kind
from clinic.visits.actions.put_right import put_on_right_patient
from clinic.visits.actions.rebooking import (
    call_off_booking,
    call_off_next_visit,
    move_booking,
    move_next_visit,
)
from clinic.visits.actions.see_now import mark_see_now, take_see_now, withdraw_see_now
from clinic.visits.actions.signing import sign

__all__ = [
    "add_addendum",
    "add_given_at_home",
    "amend_right",
    "answer_heads_up",
    "answer_history",
    "answer_topics",
    "book",
    "call_off_booking",
    "call_off_next_visit",
    "cancel_bookings",
    "cancel_next_visit",
    "check_in",
    "excuse_bcs",
    "excuse_weight",
    "expect_today",
    "go_home",
    "mark_see_now",
    "move",
    "move_booking",
    "move_next_visit",
    "pin_heads_up",
    "plan_next_visit",
    "put_on_right_patient",
    "remove_given_at_home",
    "say_why",
    "scan_chip",
    "set_kind",
    "sign",
    "take_see_now",
    "tell_diet",
    "tell_lifestyle",
    "withdraw_see_now",
]
