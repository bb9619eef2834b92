"""Takes files in from the network, to disk, and no more of them than is allowed."""

from dataclasses import dataclass

from django.conf import settings
from django.core.files.uploadhandler import StopUpload, TemporaryFileUploadHandler
from django.http import HttpRequest


@dataclass(frozen=True, slots=True)
class Refusal:
    """A file that was not taken in. `reason` is "too_big" or "too_many"; `cap` goes with it."""

    field: str
    name: str
    reason: str
    cap: int


def refused_files(request: HttpRequest) -> list[Refusal]:
    """The files of this form that were not taken in, in the order in which they came."""
    _ = request.FILES  # a form is read, and its files counted, when somebody first asks for it
    return getattr(request, "files_refused", [])


class CappedUpload(TemporaryFileUploadHandler):
    """Counts while the bytes come, and stops keeping a file that passes its cap.

    A refused file is dropped alone: the words and the other files of the same form arrive, and
    `refused_files` says what happened to it. Only a request far beyond anything reasonable is
    cut off.
    """

    def handle_raw_input(self, input_data, META, content_length, boundary, encoding=None):  # noqa: N803
        self._photos = 0
        self._came = 0
        self.request.files_refused = []

    def new_file(self, field_name, *args, **kwargs):
        super().new_file(field_name, *args, **kwargs)
        self._size = 0
        self._dropped = False
        self._cap = self._cap_of(field_name)
        if self._cap == settings.PHOTO_CAP:
            self._photos += 1
            if self._photos > settings.PHOTOS_A_REQUEST:
                self._drop("too_many", settings.PHOTOS_A_REQUEST)

    def receive_data_chunk(self, raw_data, start):
        self._size += len(raw_data)
        self._came += len(raw_data)
        if self._came > settings.REQUEST_CAP:
            raise StopUpload(connection_reset=True)
        if self._size > self._cap and not self._dropped:
            self._drop("too_big", self._cap)
        if not self._dropped:
            super().receive_data_chunk(raw_data, start)

    def file_complete(self, file_size):
        return None if self._dropped else super().file_complete(file_size)

    def _cap_of(self, field_name: str) -> int:
        """Tables may be large, but only from somebody who is signed in."""
        if field_name == "table":
            person = getattr(self.request, "user", None)
            if person is not None and person.is_authenticated:
                return settings.TABLE_CAP
        return settings.PHOTO_CAP

    def _drop(self, reason: str, cap: int) -> None:
        """Take the file off the disk; what still comes of it is counted and let fall."""
        self._dropped = True
        self.file.close()
        self.request.files_refused.append(
            Refusal(self.field_name, self.file_name or "", reason, cap)
        )
