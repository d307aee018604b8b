"""A bound on what a browser may send as a file, before anything of it is stored."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.files.uploadhandler import FileUploadHandler, SkipFile


class BoundedUpload(FileUploadHandler):
    """Passes over a file that is larger than any that the register takes; the form then finds it missing."""

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        super().new_file(*args, **kwargs)
        self._seen = 0

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        self._seen += len(raw_data)
        if self._seen > settings.UPLOAD_MOST_MB * 2**20:
            raise SkipFile
        return raw_data

    def file_complete(self, file_size: int) -> None:
        return None
