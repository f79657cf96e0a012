from django.urls import URLPattern, path

from clinic.care.views import lines, medicines, next_visit, page, problems, tests

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
    path(f"{PLAN}assessments/<int:assessment_id>/back/", problems.take_back, name="plan-assess-back"),
    path(f"{PLAN}lines/<int:line_id>/back/", lines.take_back, name="plan-line-back"),
    path(f"{PLAN}lines/<int:line_id>/progress/", lines.progress, name="plan-progress"),
    path(f"{PLAN}medicines/<int:medicine_id>/back/", medicines.take_back, name="plan-medicine-back"),
    path(f"{PLAN}directions/", medicines.directions, name="plan-directions"),
    path(f"{PLAN}tests/<int:test_id>/back/", tests.take_back, name="plan-test-back"),
    path(f"{PLAN}tests/<int:test_id>/result/", tests.result, name="plan-result"),
    path(f"{PLAN}results/<int:result_id>/read/", tests.read, name="plan-read"),
    path(f"{PLAN}next/", next_visit.add, name="plan-next"),
    path(f"{PLAN}next/<int:next_visit_id>/back/", next_visit.take_back, name="plan-next-back"),
]
