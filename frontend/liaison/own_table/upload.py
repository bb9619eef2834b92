"""Takes a table in from the network, to memory and never to disk, and no more than is allowed."""

from io import BytesIO

from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.files.uploadhandler import FileUploadHandler, StopUpload

LARGEST = 1_000_000  # bytes of a table: twenty thousand rows of fifty letters
TOO_MUCH = 20 * LARGEST  # of a whole request: nobody has a reason


class TableInMemory(FileUploadHandler):
    """Holds one file in memory. A larger one is dropped while it comes; `is_too_large` says so."""

    def __init__(self, request=None) -> None:
        super().__init__(request)
        self.is_too_large = False
        self._came = 0

    def new_file(self, *args, **kwargs) -> None:
        super().new_file(*args, **kwargs)
        self._kept = BytesIO()

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        self._came += len(raw_data)
        if self._came > TOO_MUCH:
            raise StopUpload(connection_reset=True)
        if self._came > LARGEST:
            self.is_too_large = True
            self._kept = BytesIO()
        else:
            self._kept.write(raw_data)

    def file_complete(self, file_size: int) -> SimpleUploadedFile | None:
        if self.is_too_large:
            return None
        return SimpleUploadedFile(self.file_name or "table", self._kept.getvalue())
