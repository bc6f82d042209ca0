"""A photograph goes into the record of a run: from a form of its step's page, or out of the queue of a tablet."""

from __future__ import annotations

from fastapi import Request, UploadFile

from vaporwright.acceptance.record.events import AddAttachment
from vaporwright.acceptance.record.state import RunState
from vaporwright.actions.floor_photo import LARGEST_PHOTO_bytes, kind_of_file, plain_file_name
from vaporwright.actions.floor_work import AT_ONCE, Waited, stamped
from vaporwright.foundation.errors import InputError
from vaporwright.web.context import Viewer, desk_of
from vaporwright.web.floor import OpenedRun, enter, step_named_in


def enter_photo(
    request: Request,
    opened: OpenedRun,
    who: Viewer,
    step: str,
    photo: UploadFile | None,
    event_id: str,
    waited: Waited = AT_ONCE,
) -> RunState:
    """Keep a file and enter it with its step; sent again under its event id, it is there once.

    Raises: HTTPException 404 for a step that there is not; InputError for a file that may not come in; Refused.
    """
    step_named_in(opened, step)
    if photo is None or not photo.filename:
        raise InputError("photo", "", "no file was chosen", "a photograph (JPEG, PNG, WebP) or a PDF")
    content = photo.file.read(LARGEST_PHOTO_bytes + 1)
    media_type, ending = kind_of_file(content)
    desk = desk_of(request, who.roles[0])
    attachment = desk.attach(content, plain_file_name(photo.filename, ending), media_type)
    return enter(
        request, opened, desk, lambda at, _: AddAttachment(stamped(at.stamp(event_id), waited), attachment, step)
    )
