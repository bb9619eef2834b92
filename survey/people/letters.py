"""Letters that could not leave: without a mail server each is kept as a file of its own."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from email.utils import getaddresses
from pathlib import Path

from django.conf import settings

_NAME = re.compile(r"^[0-9]{8}-[0-9]{6}-[0-9]+\.log$")  # as Django's file mailer names them
MOST_BYTES = 200_000


@dataclass(frozen=True, slots=True)
class Letter:
    """One kept letter. `name` is its file's."""

    name: str
    written_at: datetime
    to: str
    subject: str
    body: str


def kept_letters(most: int = 200) -> list[Letter]:
    """The newest letters in the folder, newest first. An unreadable file is left out."""
    files = sorted(_files(), key=lambda file: file.name, reverse=True)[:most]
    return [letter for file in files if (letter := _read(file)) is not None]


def how_many_kept() -> int:
    return len(_files())


def kept_letter(name: str) -> Letter | None:
    """The letter in this file; None when there is none, or when the name is not one of ours."""
    if not _NAME.match(name):
        return None
    return _read(Path(settings.MAIL_KEPT) / name)


def forget_letters_to(address: str) -> int:
    """Throw away every kept letter to this address; says how many."""
    wanted, gone = address.strip().lower(), 0
    for file in _files() if wanted else []:
        letter = _parsed(file)
        if letter is None:
            continue
        everyone = getaddresses(str(to) for to in letter.get_all("To", []))
        if wanted in {email.lower() for _name, email in everyone}:
            file.unlink(missing_ok=True)
            gone += 1
    return gone


def _files() -> list[Path]:
    folder = Path(settings.MAIL_KEPT)
    return [file for file in folder.iterdir() if _NAME.match(file.name)] if folder.is_dir() else []


def _parsed(file: Path) -> EmailMessage | None:
    try:
        with file.open("rb") as opened:
            raw = opened.read(MOST_BYTES)
    except OSError:
        return None
    text, _line, _rest = raw.rpartition(b"-" * 79)
    return message_from_bytes(text or raw, policy=policy.default)


def _read(file: Path) -> Letter | None:
    message = _parsed(file)
    if message is None:
        return None
    part = message.get_body(("plain",))
    written = datetime.fromtimestamp(file.stat().st_mtime, UTC)
    return Letter(
        name=file.name,
        written_at=written,
        to=str(message.get("To", "")),
        subject=str(message.get("Subject", "")),
        body=part.get_content() if part is not None else "",
    )
