"""One plain text e-mail through the mail server that the settings name, if they name one."""

from __future__ import annotations

from email.utils import parseaddr
from smtplib import SMTPException

from django.conf import settings
from django.core.mail import EmailMessage

from qc.delivery.failures import in_words
from qc.errors import NotDelivered


def is_set_up() -> bool:
    return bool(settings.MAIL_IS_SET_UP)


def send_mail(*, to: str, subject: str, text: str, message_id: str) -> None:
    """message_id: the same for each try, so that a repeat can be seen as one. A mailing that is not
    to be answered by a machine says so (RFC 3834)."""
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2]
    letter = EmailMessage(
        subject=" ".join(subject.split()),
        body=text,
        to=[to],
        headers={"Message-ID": f"<{message_id}@{domain}>", "Auto-Submitted": "auto-generated"},
    )
    try:
        letter.send()
    except (SMTPException, OSError) as error:
        raise NotDelivered(why=f"The mail server did not take it: {in_words(error)}") from error
