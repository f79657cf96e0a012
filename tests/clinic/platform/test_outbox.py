import email
from email import policy

import pytest
from django.core.mail import EmailMessage, get_connection

from clinic.platform.outbox import outbox_folder

BACKEND = "clinic.platform.outbox.OutboxBackend"


def letter(body: str = "Junio's letter") -> EmailMessage:
    message = EmailMessage("Ñandú", body, "clinic@tailward.example", ["owner@tailward.example"])
    message.attach("letter.pdf", b"%PDF-1.7", "application/pdf")
    return message


def test_each_mail_is_kept_whole_and_in_order():
    assert get_connection(BACKEND).send_messages([letter("first"), letter("second")]) == 2
    kept = [
        email.message_from_bytes(file.read_bytes(), policy=policy.default)
        for file in sorted(outbox_folder().glob("*.eml"))
    ]
    assert [mail["Subject"] for mail in kept] == ["Ñandú", "Ñandú"]
    assert [mail.get_body().get_content().strip() for mail in kept] == ["first", "second"]
    assert [part.get_content() for part in kept[0].iter_attachments()] == [b"%PDF-1.7"]


def test_a_folder_that_cannot_be_written_is_an_error_as_a_dead_server_is(settings):
    settings.OUTBOX_DIR = "/sys/outbox"
    with pytest.raises(OSError, match="outbox"):
        get_connection(BACKEND).send_messages([letter()])
