"""Messages leave by real SMTP on the loopback, or into the folder."""

import json
import socket
import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from email import message_from_bytes, policy
from pathlib import Path

import pytest

from app.platform.outbox import Letter, NotSent, send
from app.platform.settings import Settings, read_settings

LETTER = Letter("message-7", "nora@example.org", "A note from Studio Ö", "Hello Nora,\n\nwie geht’s?\n.\nBye\n")


@dataclass
class Server:
    """What a mail server answers to each step, and what it was told."""

    answers: dict[str, bytes]
    port: int = 0
    letters: list[bytes] = field(default_factory=list)
    commands: list[str] = field(default_factory=list)


@contextmanager
def serving(**answers: bytes) -> Iterator[Server]:
    server = Server(answers)

    class Conversation(socketserver.StreamRequestHandler):
        def say(self, step: str, usual: bytes) -> bool:
            answer = server.answers.get(step, usual)
            if answer:
                self.wfile.write(answer + b"\r\n")
            return bool(answer)

        def handle(self) -> None:
            self.say("greeting", b"220 here")
            while line := self.rfile.readline():
                step = line.split()[0].decode().upper()
                server.commands.append(line.decode().strip())
                if step == "DATA" and server.answers.get("DATA", b"354").startswith(b"354"):
                    self.say("DATA", b"354 go on")
                    server.letters.append(b"".join(iter(self.rfile.readline, b".\r\n")).replace(b"\r\n..", b"\r\n."))
                    step = "end"
                if not self.say(step, b"221 bye" if step == "QUIT" else b"250 fine") or step == "QUIT":
                    return

    with socketserver.ThreadingTCPServer(("127.0.0.1", 0), Conversation) as listening:
        listening.daemon_threads = True
        server.port = listening.server_address[1]
        thread = threading.Thread(target=listening.serve_forever, args=(0.02,))
        thread.start()
        try:
            yield server
        finally:
            listening.shutdown()
            thread.join()


def settings(folder: Path, port: int = 0, *, user: str = "") -> Settings:
    mail = {"EVENSEAM_MAIL_URL": f"smtp://{user}127.0.0.1:{port}", "EVENSEAM_MAIL_FROM": "studio@example.com"}
    return read_settings({"EVENSEAM_BASE_URL": "https://studio.example", **(mail if port else {})}, data=folder)


def test_a_letter_is_sent_with_its_lasting_id(tmp_path: Path) -> None:
    with serving() as server:
        assert send(settings(tmp_path, server.port), LETTER, studio_name="Studio Ö") == "smtp"
    (raw,) = server.letters
    letter = message_from_bytes(raw, policy=policy.default)
    assert letter["Message-ID"] == "<message-7@studio.example>"
    assert letter["To"] == "nora@example.org"
    assert letter["From"].addresses[0].addr_spec == "studio@example.com"
    assert letter["From"].addresses[0].display_name == "Studio Ö"
    assert letter["Subject"] == LETTER.subject
    assert letter.get_content().replace("\r\n", "\n") == LETTER.text
    assert not (tmp_path / "outbox").exists()


@pytest.mark.parametrize(
    ("step", "answer", "final"),
    [
        ("MAIL", b"451 not now", False),
        ("MAIL", b"550 not you", True),
        ("RCPT", b"450 mailbox busy", False),
        ("RCPT", b"550 no such mailbox", True),
        ("DATA", b"451 later", False),
        ("DATA", b"554 never", True),
        ("end", b"452 no room", False),
        ("end", b"552 too large", True),
        ("greeting", b"421 closing", False),
        ("EHLO", b"", False),  # hangs up
        ("end", b"", False),  # hangs up before it has said that it took the letter
    ],
)
def test_what_the_server_answers_decides_whether_to_try_again(
    tmp_path: Path, step: str, answer: bytes, final: bool
) -> None:
    with serving(**{step: answer}) as server, pytest.raises(NotSent) as refused:
        send(settings(tmp_path, server.port), LETTER, studio_name="Studio")
    assert refused.value.final is final
    assert str(refused.value).startswith("the mail server ")
    assert "nora" not in str(refused.value)  # it is shown to the desk and kept in the trail


@pytest.mark.parametrize("goodbye", [b"421 too busy to be polite", b""])
def test_a_letter_that_was_taken_counts_as_sent_whatever_the_goodbye(tmp_path: Path, goodbye: bytes) -> None:
    with serving(QUIT=goodbye) as server:
        assert send(settings(tmp_path, server.port), LETTER, studio_name="Studio") == "smtp"
    assert len(server.letters) == 1


def test_a_password_is_not_given_to_a_server_without_encryption(tmp_path: Path) -> None:
    with serving() as server, pytest.raises(NotSent) as refused:
        send(settings(tmp_path, server.port, user="studio:secret@"), LETTER, studio_name="Studio")
    assert not refused.value.final
    assert not any(command.startswith("AUTH") for command in server.commands)
    assert server.letters == []


def test_a_server_that_is_not_there_is_tried_again_later(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        with pytest.raises(NotSent) as refused:
            send(settings(tmp_path, taken.getsockname()[1]), LETTER, studio_name="Studio")
    assert not refused.value.final
    assert "could not be reached" in str(refused.value)


@pytest.mark.parametrize("address", ["nora@example.org\r\nBcc: all@example.org", "nöra@example.org", "", "a@b@c,d"])
def test_an_address_that_is_none_reaches_nobody(tmp_path: Path, address: str) -> None:
    with serving(RCPT=b"550 no such mailbox") as server, pytest.raises(NotSent):
        send(settings(tmp_path, server.port), replace(LETTER, to=address), studio_name="Studio")
    assert server.letters == []


def test_without_a_mail_server_letters_are_files_one_for_each_id(tmp_path: Path) -> None:
    for _ in range(2):
        assert send(settings(tmp_path), LETTER, studio_name="Studio") == "folder"
    send(settings(tmp_path), replace(LETTER, id="../message/8"), studio_name="Studio")
    assert sorted(path.name for path in (tmp_path / "outbox").iterdir()) == ["..-message-8.json", "message-7.json"]
    kept = json.loads((tmp_path / "outbox" / "message-7.json").read_text(encoding="utf-8"))
    assert kept == {"id": LETTER.id, "to": LETTER.to, "subject": LETTER.subject, "text": LETTER.text}
    assert (tmp_path / "outbox").stat().st_mode & 0o077 == 0
