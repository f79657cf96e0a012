"""Who may do what: one table that pages, buttons and actions all ask.

The rows that speak of clinical work follow the published role rules named beside them (Maryland COMAR
15.14.13.13; Maine 32 MRS 4866; AVMA technology policy). Role rules vary by state: a practice follows its
local law. Rows without a source are common practice or house-keeping.
"""

from enum import StrEnum


class Role(StrEnum):
    ASSISTANT = "assistant"
    TECHNICIAN = "technician"
    CLINICIAN = "clinician"
    MANAGER = "manager"


class Right(StrEnum):
    SEE = "see"  # patients, visits, letters
    EDIT_PEOPLE = "edit-people"  # owners, patients, alerts, contact details
    MOVE_VISIT = "move-visit"  # check in, see now, pass on, go home
    TAKE_HISTORY = "take-history"
    MEASURE = "measure"
    STRIKE_OWN = "strike-own"
    STRIKE_ANY = "strike-any"
    PIN_HEADS_UP = "pin-heads-up"
    OBSERVE = "observe"  # enter a finding as an observation; a grade stays provisional
    GRADE = "grade"
    ANSWER_HEADS_UP = "answer-heads-up"
    CERTIFY_DEATH = "certify-death"  # what we saw; what an owner tells is edit-people
    ASSESS = "assess"  # problems, diagnosis, prognosis
    PLAN = "plan"
    PRESCRIBE = "prescribe"
    NOTE_CONTACT = "note-contact"  # calls, mails, estimates, consents; advice and referral need assess
    BOOK = "book"  # next visits
    FEED = "feed"  # feeding plans
    GIVE_DOSE = "give-dose"
    SIGN = "sign"
    AMEND_OWN = "amend-own"
    AMEND_ANY = "amend-any"
    SEND_LETTER = "send-letter"  # print, send again
    SEE_OUTBOX = "see-outbox"
    MANAGE_STAFF = "manage-staff"
    MANAGE_CLINIC = "manage-clinic"  # details, letterhead, catalogues
    KEEP_MEDICINES = "keep-medicines"  # the clinic's own list of medicines; no dose stands in it
    APPROVE_PROTOCOL = "approve-protocol"
    SEE_RECORDS = "see-records"  # the list of pages; each asks its own right
    PROPOSE_WALK = "propose-walk"
    APPROVE_WALK = "approve-walk"
    MERGE = "merge"
    EXPORT = "export"


_A, _T, _C, _M = Role.ASSISTANT, Role.TECHNICIAN, Role.CLINICIAN, Role.MANAGER
_EVERYBODY = frozenset({_A, _T, _C, _M})
_CLINICAL = frozenset({_A, _T, _C})

TABLE: dict[Right, frozenset[Role]] = {
    Right.SEE: _EVERYBODY,
    Right.EDIT_PEOPLE: _EVERYBODY,
    Right.MOVE_VISIT: _EVERYBODY,
    Right.TAKE_HISTORY: _CLINICAL,
    Right.MEASURE: _CLINICAL,
    Right.STRIKE_OWN: _CLINICAL,
    Right.STRIKE_ANY: frozenset({_C}),
    Right.PIN_HEADS_UP: _CLINICAL,
    Right.OBSERVE: frozenset({_T, _C}),
    Right.GRADE: frozenset({_C}),
    Right.ANSWER_HEADS_UP: frozenset({_C}),
    Right.CERTIFY_DEATH: frozenset({_C}),
    Right.ASSESS: frozenset({_C}),  # Maryland COMAR 15.14.13.13: diagnosis and prognosis
    Right.PLAN: frozenset({_C}),
    Right.PRESCRIBE: frozenset({_C}),  # Maryland COMAR 15.14.13.13
    Right.NOTE_CONTACT: _EVERYBODY,
    Right.BOOK: _EVERYBODY,
    Right.FEED: frozenset({_C}),
    Right.GIVE_DOSE: frozenset({_T, _C}),  # rabies: who may give it, and under whom, is local law
    Right.SIGN: frozenset({_C}),
    Right.AMEND_OWN: _CLINICAL,
    Right.AMEND_ANY: frozenset({_C}),
    Right.SEND_LETTER: _EVERYBODY,
    Right.SEE_OUTBOX: _EVERYBODY,
    Right.MANAGE_STAFF: frozenset({_M}),
    Right.MANAGE_CLINIC: frozenset({_M}),
    Right.KEEP_MEDICINES: frozenset({_C, _M}),
    Right.APPROVE_PROTOCOL: frozenset({_C}),
    Right.SEE_RECORDS: frozenset({_C, _M}),
    Right.PROPOSE_WALK: frozenset({_C, _M}),
    Right.APPROVE_WALK: frozenset({_C}),  # what an exam asks is a medical decision
    Right.MERGE: frozenset({_M}),
    Right.EXPORT: frozenset({_M}),
}


def may(roles: frozenset[Role], right: Right) -> bool:
    """Whether any of the roles holds the right."""
    return bool(TABLE[right] & roles)
