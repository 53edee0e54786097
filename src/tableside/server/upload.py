"""Files that a page sends, kept below numbers of our own."""

from pathlib import Path

from anyio import to_thread
from fastapi import Request
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException

from tableside.errors import InputError
from tableside.model import Rejected
from tableside.server.desk import Desk
from tableside.server.shapes.reading import Rejected as ToldRejected
from tableside.server.shapes.study import Received

CHUNK_BYTES = 2**20
BAD_REQUEST = 400
LONGEST_NAME = 500


class BadUpload(InputError):
    """What was sent is no set of files."""

    code = "bad-upload"


async def receive_upload(desk: Desk, request: Request) -> Received:
    """Keep the files of a multipart request and begin to read them.

    Raises
    ------
    BadUpload
        When there are no files in it, or too many.
    """
    if not request.headers.get("content-type", "").startswith("multipart/form-data"):
        raise BadUpload("the files were not sent as a form; drop them onto the page")
    most = desk.settings.most_upload_files
    try:
        async with request.form(max_files=most, max_fields=10) as form:
            return await to_thread.run_sync(_keep, desk, form)
    except MultiPartException as error:
        raise BadUpload(
            f"the files did not arrive whole ({error.message}); send again"
        ) from error
    except HTTPException as error:
        if error.status_code != BAD_REQUEST:
            raise
        raise BadUpload(
            f"the files did not arrive whole ({error.detail}); send again"
        ) from error
    except KeyError as error:  # a form without its boundary
        raise BadUpload("the files did not arrive whole; send them again") from error


def _keep(desk: Desk, form: FormData) -> Received:
    files = [one for _, one in form.multi_items() if isinstance(one, UploadFile)]
    if not files:
        raise BadUpload("no files arrived; choose a folder, a zip or files of images")
    folder = desk.store.scratch()
    try:
        named, refused = _write(files, folder)
        if not named:
            raise BadUpload("none of the files can be kept: " + refused[0].reason)
        study, is_new, rejected = desk.receive(folder, named)
    finally:
        desk.discard(folder)
    desk.study(study)
    told = [ToldRejected(file=one.file, reason=one.reason) for one in (*refused, *rejected)]
    return Received(id=study, is_new=is_new, rejected=told)


def _write(files: list[UploadFile], folder: Path) -> tuple[dict[str, Path], list[Rejected]]:
    named: dict[str, Path] = {}
    refused: list[Rejected] = []
    for position, upload in enumerate(files):
        name = clean_name(upload.filename or "")
        if name is None or name in named:
            reason = "its name is used twice" if name else "its name cannot be used"
            refused.append(Rejected(file=(upload.filename or "")[:200], reason=reason))
            continue
        path = folder / f"{position:05d}"
        with path.open("xb") as sink:
            while chunk := upload.file.read(CHUNK_BYTES):
                sink.write(chunk)
        named[name] = path
    return named, refused


def clean_name(name: str) -> str | None:
    """Return a name inside the study with forward slashes; None for one that is no such name.

    It is shown and compared, and never becomes a path.
    """
    parts = [part for part in name.replace("\\", "/").split("/") if part not in ("", ".")]
    cleaned = "/".join(parts)
    if not cleaned or len(cleaned) > LONGEST_NAME or ".." in parts or not cleaned.isprintable():
        return None
    return cleaned
