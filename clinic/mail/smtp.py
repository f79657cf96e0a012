"""Django's SMTP backend, which also tells when nobody can know whether the other side took the mail."""

import smtplib

from django.core.mail.backends.smtp import EmailBackend

GO_AHEAD = 354  # RFC 5321, 4.2.3: from here on the content travels


class InDoubt(smtplib.SMTPServerDisconnected):
    """The connection ended after the content began to travel and before the other side answered for it.

    RFC 5321, 4.5.3.2.6 and 6.1: it may have taken the mail, and sending it again may double it.
    """


class _Telling:
    """Mixed into smtplib's classes: keeps the last answer, so that a loss is told by where it happened."""

    said = 0

    def getreply(self) -> tuple[int, bytes]:
        code, answer = super().getreply()  # type: ignore[misc]
        self.said = code
        return code, answer

    def data(self, msg: object) -> tuple[int, bytes]:
        self.said = 0
        try:
            return super().data(msg)  # type: ignore[misc,no-any-return]
        except OSError as fault:
            if self.said == GO_AHEAD:
                raise InDoubt(str(fault)) from fault
            raise


class _Smtp(_Telling, smtplib.SMTP):
    pass


class _SmtpOverTls(_Telling, smtplib.SMTP_SSL):
    pass


class Backend(EmailBackend):
    """Raises InDoubt beside smtplib's errors and OSError."""

    @property
    def connection_class(self) -> type[smtplib.SMTP]:
        return _SmtpOverTls if self.use_ssl else _Smtp
