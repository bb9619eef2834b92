"""Takes files in from the network, to disk, and no more of them than is allowed."""

from dataclasses import dataclass

from django.conf import settings
from django.core.files.uploadhandler import FileUploadHandler, SkipFile, StopUpload


@dataclass(frozen=True, slots=True)
class Refusal:
    """A file that was not taken in. `reason` is "too_big" or "too_many"; `cap` goes with it."""

    field: str
    name: str
    reason: str
    cap: int


class CappedUpload(FileUploadHandler):
    """Counts while the bytes come, and stops keeping a file that passes its cap.

    A refused file is dropped alone: the words and the other files of the same form arrive, and
    the form reads `request.refused_files` to say what happened. Only a request far beyond
    anything reasonable is cut off.
    """

    def handle_raw_input(self, input_data, META, content_length, boundary, encoding=None):  # noqa: N803
        self._kept = 0
        self._came = 0
        self.request.refused_files = []

    def new_file(self, field_name, file_name, *args, **kwargs):
        super().new_file(field_name, file_name, *args, **kwargs)
        self._size = 0
        self._cap = self._cap_of(field_name)
        if self._cap == settings.PHOTO_CAP:
            if self._kept == settings.PHOTOS_A_REQUEST:
                self._refuse("too_many", settings.PHOTOS_A_REQUEST)
            self._kept += 1

    def receive_data_chunk(self, raw_data, start):
        self._size += len(raw_data)
        self._came += len(raw_data)
        if self._came > settings.REQUEST_CAP:
            raise StopUpload(connection_reset=True)
        if self._size > self._cap:
            self._refuse("too_big", self._cap)
        return raw_data

    def file_complete(self, file_size):
        return None  # the next handler has it on disk

    def _cap_of(self, field_name: str) -> int:
        """Tables may be large, but only from somebody who is signed in."""
        if field_name == "table":
            person = getattr(self.request, "user", None)
            if person is not None and person.is_authenticated:
                return settings.TABLE_CAP
        return settings.PHOTO_CAP

    def _refuse(self, reason: str, cap: int) -> None:
        name = self.file_name or ""
        self.request.refused_files.append(Refusal(self.field_name, name, reason, cap))
        raise SkipFile
