"""What a form sent: its texts by name, and its files."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.datastructures import UploadFile
from starlette.requests import Request

from lagline.desk.new_job import Upload
from lagline.records.errors import refuse

MOST_FILES, MOST_FIELDS, MOST_TEXT = 60, 400, 2_200_000


@dataclass(frozen=True, slots=True)
class Form:
    """Texts by field, the last of a name; files by field."""

    text: dict[str, str]
    files: dict[str, tuple[Upload, ...]]

    def __getitem__(self, name: str) -> str:
        return self.text.get(name, "")

    def uploads(self, name: str) -> tuple[Upload, ...]:
        return self.files.get(name, ())


async def read_form(request: Request) -> Form:
    """Read the form of a request. Errors: LaglineError for text that is not UTF-8."""
    text: dict[str, str] = {}
    files: dict[str, list[Upload]] = {}
    try:
        sent = await request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=MOST_TEXT)
    except UnicodeDecodeError:
        raise refuse("file-unreadable", "form", "is not plain text", "UTF-8 text") from None
    for name, value in sent.multi_items():
        if isinstance(value, UploadFile):
            if value.filename:  # a file field left empty sends a nameless one
                files.setdefault(name, []).append(Upload(value.filename, await value.read()))
        else:
            text[name] = value
    return Form(text, {k: tuple(v) for k, v in files.items()})
