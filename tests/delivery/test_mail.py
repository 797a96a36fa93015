"""One e-mail, and a mail server that does not take it."""

from __future__ import annotations

from smtplib import SMTPResponseException
from typing import Any

import pytest
from django.core import mail as sent
from django.core.mail import EmailMessage

from qc.delivery import mail
from qc.errors import NotDelivered

LETTER = {"to": "l@x.example", "text": "Words\n", "message_id": "msg_1"}


def test_a_name_with_a_line_break_makes_no_header(settings: Any) -> None:
    settings.DEFAULT_FROM_EMAIL = "Ledger <ledger@shop.example>"
    mail.send_mail(subject="Plug\r\nBcc: all@x.example", **LETTER)
    [letter] = sent.outbox
    assert letter.subject == "Plug Bcc: all@x.example"
    told = letter.message()
    assert (told["Message-ID"], told["Auto-Submitted"]) == (
        "<msg_1@shop.example>",
        "auto-generated",
    )


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (ConnectionRefusedError(111, "Connection refused"), "take it: Connection refused"),
        (SMTPResponseException(550, b"no such box"), "take it: 550 no such box"),
        (TimeoutError("timed out"), "take it: timed out"),
    ],
)
def test_a_server_that_refuses_is_told_in_words(
    monkeypatch: pytest.MonkeyPatch, error: Exception, said: str
) -> None:
    def refuse(self: EmailMessage) -> int:
        raise error

    monkeypatch.setattr(EmailMessage, "send", refuse)
    with pytest.raises(NotDelivered, match=said):
        mail.send_mail(subject="Plug", **LETTER)
