from django.urls import URLPattern, path

from clinic.care.views import in_use, lines, listed, medicines, next_visit, page, problems, results, tests

PLAN = "visits/<int:visit_id>/plan/"

urlpatterns: list[URLPattern] = [
    path(PLAN, page.plan, name="visit-plan"),
    path(f"{PLAN}problems/", problems.open_problem, name="plan-problem"),
    path(f"{PLAN}problems/<int:problem_id>/assess/", problems.assess, name="plan-assess"),
    path(f"{PLAN}problems/<int:problem_id>/close/", problems.close, name="plan-close"),
    path(f"{PLAN}problems/<int:problem_id>/reopen/", problems.reopen, name="plan-reopen"),
    path(f"{PLAN}problems/<int:problem_id>/lines/", lines.add, name="plan-line"),
    path(f"{PLAN}problems/<int:problem_id>/medicines/", medicines.prescribe, name="plan-medicine"),
    path(f"{PLAN}problems/<int:problem_id>/tests/", tests.take, name="plan-test"),
    path(f"{PLAN}problems/<int:problem_id>/tests/out/", tests.send_out, name="plan-test-out"),
    path(f"{PLAN}problems/<int:problem_id>/condition/", problems.condition, name="plan-condition"),
    path(f"{PLAN}assessments/<int:assessment_id>/up/", problems.more_likely, name="plan-assess-up"),
    path(f"{PLAN}assessments/<int:assessment_id>/back/", problems.take_back, name="plan-assess-back"),
    path(f"{PLAN}lines/<int:line_id>/back/", lines.take_back, name="plan-line-back"),
    path(f"{PLAN}lines/<int:line_id>/progress/", lines.progress, name="plan-progress"),
    path(f"{PLAN}medicines/<int:medicine_id>/back/", medicines.take_back, name="plan-medicine-back"),
    path(f"{PLAN}medicines/<int:medicine_id>/dose/", medicines.give, name="plan-dose"),
    path(f"{PLAN}doses/<int:dose_id>/strike/", medicines.strike_dose, name="plan-dose-strike"),
    path(f"{PLAN}directions/", medicines.directions, name="plan-directions"),
    path(f"{PLAN}tests/<int:test_id>/back/", tests.take_back, name="plan-test-back"),
    path(f"{PLAN}tests/<int:test_id>/result/", results.result, name="plan-result"),
    path(f"{PLAN}tests/<int:test_id>/read/", results.read, name="plan-read"),
    path(f"{PLAN}result-letter/", results.letter, name="visit-result-letter"),
    path(f"{PLAN}next/", next_visit.add, name="plan-next"),
    path("visits/<int:visit_id>/medicines/", in_use.take_home_sheet, name="visit-medicines"),
    path("patients/<int:patient_id>/problems/<int:problem_id>/", problems.problem, name="patient-problem"),
    path("patients/<int:patient_id>/results/", results.results, name="patient-results"),
    path("patients/<int:patient_id>/results/<int:result_id>/strike/", results.strike, name="result-strike"),
    path("patients/<int:patient_id>/reports/<int:file_id>/", results.report, name="result-file"),
    path(
        "patients/<int:patient_id>/reports/<int:file_id>/strike/", results.strike_report, name="report-strike"
    ),
    path("patients/<int:patient_id>/medicines/", in_use.medicines, name="patient-medicines"),
    path(
        "patients/<int:patient_id>/medicines/<int:medicine_id>/stop/",
        in_use.stop,
        name="patient-medicine-stop",
    ),
    path(
        "patients/<int:patient_id>/medicines/<int:medicine_id>/label/",
        in_use.label,
        name="patient-medicine-label",
    ),
    path("records/medicines/", listed.medicines, name="medicine-list"),
    path("records/medicines/new/", listed.new, name="medicine-list-new"),
    path("records/medicines/<int:listed_id>/", listed.medicine, name="listed-medicine"),
    path("records/medicines/<int:listed_id>/off/", listed.off, name="listed-medicine-off"),
    path("records/medicines/<int:listed_id>/back/", listed.back, name="listed-medicine-back"),
    path(f"{PLAN}next/<int:next_visit_id>/back/", next_visit.take_back, name="plan-next-back"),
]
