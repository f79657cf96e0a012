"""The local outbox, where no mail server is named."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from clinic.mail.outbox import attachment, kept_mails
from clinic.people.rights import Right
from clinic.platform.http import StaffRequest, needs


@require_GET
@needs(Right.SEE_OUTBOX)
def outbox(request: StaffRequest) -> HttpResponse:
    """Each kept mail with its text and what is attached."""
    return render(request, "letters/outbox.html", {"mails": kept_mails(request.actor)})


@require_GET
@needs(Right.SEE_OUTBOX)
def outbox_file(request: StaffRequest, name: str, number: int) -> HttpResponse:
    """One attached file."""
    file_name, content = attachment(request.actor, name, number)
    response = HttpResponse(content, content_type=_kind_of(file_name))
    plain = file_name.encode("ascii", "replace").decode().replace("?", "_")
    response["Content-Disposition"] = f'inline; filename="{plain}"'
    return response


def _kind_of(file_name: str) -> str:
    """Letters are PDF; what stands beside them is a calendar file."""
    return "text/calendar; charset=utf-8" if file_name.endswith(".ics") else "application/pdf"
