"""Where messages leave: by SMTP when a studio has set it up, else into a folder that anyone can look into."""

import json
import re
import smtplib
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from email.message import EmailMessage
from email.utils import formataddr
from urllib.parse import unquote, urlsplit

from app.platform.settings import Settings


@dataclass(frozen=True)
class Letter:
    """One message: a stable id, so that a second try after a crash can be told from a second message."""

    id: str
    to: str
    subject: str
    text: str


class NotSent(Exception):
    """The message did not leave; `final` when trying again is no use."""

    def __init__(self, words: str, *, final: bool) -> None:
        super().__init__(words)
        self.final = final


def send(settings: Settings, letter: Letter, *, studio_name: str) -> str:
    """Sends one letter and says where it went."""
    if settings.mail_url:
        _by_smtp(settings, letter, studio_name)
        return "smtp"
    settings.outbox.mkdir(parents=True, exist_ok=True, mode=0o700)
    name = re.sub(r"[^A-Za-z0-9._-]", "-", letter.id)
    path = settings.outbox / f"{name}.json"
    temporary = path.with_suffix(".part")
    body = {"id": letter.id, "to": letter.to, "subject": letter.subject, "text": letter.text}
    temporary.write_text(json.dumps(body, ensure_ascii=False, indent=1), encoding="utf-8")
    temporary.rename(path)  # sent twice under one id is one file
    return "folder"


@contextmanager
def _leaving(server: smtplib.SMTP) -> Iterator[None]:
    """Says goodbye whatever the answer: a letter that was taken must not count as unsent because of its QUIT."""
    try:
        yield
    finally:
        with suppress(OSError, smtplib.SMTPException):
            server.quit()
        server.close()


def _by_smtp(settings: Settings, letter: Letter, studio_name: str) -> None:
    url = urlsplit(settings.mail_url)
    message = EmailMessage()
    message["From"] = formataddr((studio_name, settings.mail_from or f"studio@{url.hostname}"))
    try:
        message["To"] = letter.to
    except ValueError as error:  # a line break in it, which would begin another header
        raise NotSent("the address is not one that can be written to", final=True) from error
    if not message["To"].addresses:
        raise NotSent("the address is not one that can be written to", final=True)
    message["Subject"] = letter.subject
    message["Message-ID"] = f"<{letter.id}@{urlsplit(settings.address).hostname or 'studio.invalid'}>"
    message.set_content(letter.text)
    try:
        if url.scheme == "smtps":
            server: smtplib.SMTP = smtplib.SMTP_SSL(
                url.hostname or "", url.port or 465, timeout=20, context=ssl.create_default_context()
            )
        else:
            server = smtplib.SMTP(url.hostname or "", url.port or 25, timeout=20)
        with _leaving(server):
            if url.scheme == "smtp" and url.username:
                server.starttls(context=ssl.create_default_context())  # a password never crosses the wire in the clear
            if url.username:
                server.login(unquote(url.username), unquote(url.password or ""))
            server.send_message(message)
    except (smtplib.SMTPRecipientsRefused, smtplib.SMTPSenderRefused, smtplib.SMTPDataError) as error:
        codes = (
            [code for code, _ in error.recipients.values()]
            if isinstance(error, smtplib.SMTPRecipientsRefused)
            else [error.smtp_code]
        )
        raise NotSent(f"the mail server answered {codes[0]}", final=all(code >= 500 for code in codes)) from error
    except (OSError, smtplib.SMTPException) as error:
        raise NotSent(f"the mail server could not be reached: {type(error).__name__}", final=False) from error
