from django.urls import URLPattern, path

from preventive.views import page, recording

PREVENTION = "visits/<int:visit_id>/prevention/"

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
]
