"""Makes the copies of a picture that may be shown, in a process that may break without harm."""

import json
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.utils.translation import gettext_noop

from survey.photos.models import Photo

REDRAW = Path(__file__).with_name("redraw.py")
SECONDS = 90
UNREADABLE = gettext_noop("We could not open this photo: it is broken.")
TOO_HEAVY = gettext_noop("This photo takes too much memory or time to open.")


@dataclass(frozen=True, slots=True)
class Prepared:
    """The outcome for one picture; `state` is the row's, empty when there is nothing to do."""

    state: str = ""
    picture: str = ""
    small: str = ""
    width: int | None = None
    height: int | None = None
    refused_because: str = ""


def prepare(key: str) -> Prepared:
    """Draw a photo's two copies from its original; `key` is the photo's number.

    May run again for the same photo: the copies have fixed names and are written anew. A picture
    that cannot be opened is an answer, not an error; an original that is not there is an error.
    """
    photo = Photo.objects.filter(pk=int(key)).first()
    if photo is None or photo.state != Photo.State.WAITING:
        return Prepared()
    with tempfile.TemporaryDirectory(prefix="photo-") as folder:
        original, large, small = (Path(folder, name) for name in ("original", "large", "small"))
        with default_storage.open(photo.original.name) as kept, original.open("wb") as copy:
            for chunk in File(kept).chunks():
                copy.write(chunk)
        said = _redraw(original, large, small)
        if "refused" in said:
            heavy = said["refused"] in ("memory", "time")
            return Prepared(
                state=Photo.State.REFUSED, refused_because=TOO_HEAVY if heavy else UNREADABLE
            )
        return Prepared(
            state=Photo.State.READY,
            picture=_keep(large, f"pictures/{photo.key}.jpg"),
            small=_keep(small, f"pictures/{photo.key}-small.jpg"),
            width=said["width"],
            height=said["height"],
        )


def _redraw(original: Path, large: Path, small: Path) -> dict:
    """Run the program that opens the picture, and never longer than `SECONDS`."""
    command = [sys.executable, "-I", str(REDRAW), str(original), str(large), str(small)]
    try:
        done = subprocess.run(  # noqa: S603 - our own program, no shell, no outside words
            command, capture_output=True, timeout=SECONDS, check=False, stdin=subprocess.DEVNULL
        )
    except subprocess.TimeoutExpired:
        return {"refused": "time"}
    try:
        return json.loads(done.stdout)
    except ValueError:  # it was ended by a limit before it could say anything
        return {"refused": "time" if done.returncode < 0 else "memory"}


def _keep(file: Path, name: str) -> str:
    if default_storage.exists(name):
        default_storage.delete(name)
    with file.open("rb") as drawn:
        return default_storage.save(name, File(drawn))


def settle(key: str, prepared: Prepared) -> bool:
    """Write down what became of a photo; whether anything was written."""
    if not prepared.state:
        return False
    changed = Photo.objects.filter(pk=int(key), state=Photo.State.WAITING).update(
        state=prepared.state,
        picture=prepared.picture,
        small=prepared.small,
        width=prepared.width,
        height=prepared.height,
        refused_because=prepared.refused_because,
    )
    return bool(changed)


def discard_original(key: str) -> bool:
    """Remove the file that arrived, once it is of no more use; whether it is gone now."""
    photo = Photo.objects.filter(pk=int(key)).first()
    if photo is None or photo.state == Photo.State.WAITING:
        return False
    if photo.original:
        default_storage.delete(photo.original.name)
    return True
