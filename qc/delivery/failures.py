"""Why a message did not go out, as short as a page has room for."""

from smtplib import SMTPResponseException

LONGEST = 160


def in_words(error: Exception) -> str:
    if isinstance(error, SMTPResponseException):
        said = error.smtp_error
        text = said.decode("utf-8", errors="replace") if isinstance(said, bytes) else str(said)
        return f"{error.smtp_code} {text}"[:LONGEST]
    if isinstance(error, OSError) and isinstance(error.strerror, str):
        return error.strerror[:LONGEST]
    return (str(error) or type(error).__name__)[:LONGEST]
