from django.urls import URLPattern, path

from preventive.views import certificate, page, patient, protocol, recording, stock

PREVENTION = "visits/<int:visit_id>/prevention/"
OF_PATIENT = "patients/<int:patient_id>/prevention/"

urlpatterns: list[URLPattern] = [
    path(PREVENTION, page.prevention, name="visit-prevention"),
    path(f"{PREVENTION}doses/", recording.give, name="prevention-give"),
    path(f"{PREVENTION}outside/", recording.outside, name="prevention-outside"),
    path(f"{PREVENTION}supplies/", recording.supply, name="prevention-supply"),
    path(f"{PREVENTION}treatments/", recording.treatment, name="prevention-treatment"),
    path(f"{PREVENTION}put-off/", recording.put_off, name="prevention-put-off"),
    path(f"{PREVENTION}tests/", recording.take_test, name="prevention-test"),
    path(f"{PREVENTION}tests/<int:test_id>/result/", recording.result, name="prevention-result"),
    path(f"{PREVENTION}strike/", recording.strike, name="prevention-strike"),
    path(OF_PATIENT, patient.history, name="patient-prevention"),
    path(f"{OF_PATIENT}items/<str:item_code>/", patient.item, name="prevention-item"),
    path(f"{OF_PATIENT}calendar/", patient.calendar, name="prevention-calendar"),
    path(f"{OF_PATIENT}reactions/new/", patient.reaction_new, name="reaction-new"),
    path(f"{OF_PATIENT}reactions/<int:reaction_id>/report/", patient.reaction_report, name="reaction-report"),
    path(f"{OF_PATIENT}reactions/<int:reaction_id>/follow/", patient.reaction_follow, name="reaction-follow"),
    path(f"{OF_PATIENT}reactions/<int:reaction_id>/strike/", patient.reaction_strike, name="reaction-strike"),
    path(f"{OF_PATIENT}holds/<int:hold_id>/release/", patient.hold_release, name="hold-release"),
    path(f"{OF_PATIENT}places/", patient.site_look, name="site-look"),
    path("records/stock/", stock.stock, name="stock"),
    path("records/stock/new/", stock.lot_new, name="lot-new"),
    path("records/stock/<int:lot_id>/", stock.lot, name="lot"),
    path("records/stock/<int:lot_id>/count/", stock.lot_count, name="lot-count"),
    path("records/stock/<int:lot_id>/throw/", stock.lot_throw, name="lot-throw"),
    path("records/stock/<int:lot_id>/recall/", stock.lot_recall, name="lot-recall"),
    path("records/stock/<int:lot_id>/lift/", stock.lot_lift, name="lot-lift"),
    path("records/stock/<int:lot_id>/told/", stock.lot_told, name="lot-told"),
    path("records/protocol/", protocol.protocol, name="protocol"),
    path("records/protocol/editions/", protocol.editions, name="protocol-editions"),
    path("records/protocol/propose/", protocol.propose, name="protocol-propose"),
    path("records/protocol/<int:protocol_proposal_id>/", protocol.proposal, name="protocol-proposal"),
    path("records/protocol/<int:protocol_proposal_id>/approve/", protocol.approve, name="protocol-approve"),
    path("records/protocol/<int:protocol_proposal_id>/try/", protocol.try_again, name="protocol-try"),
    path("records/protocol/<int:protocol_proposal_id>/decline/", protocol.decline, name="protocol-decline"),
    path(f"{OF_PATIENT}certificates/", certificate.issue, name="certificate-issue"),
    path("certificates/check/", certificate.check, name="certificate-check"),
    path("certificates/<int:certificate_id>/", certificate.certificate, name="certificate"),
    path("certificates/<int:certificate_id>/pdf/", certificate.pdf, name="certificate-pdf"),
    path("certificates/<int:certificate_id>/void/", certificate.void, name="certificate-void"),
]
