"""One frame's file to its place and back: sent, read back, named. In this order, whatever the place is."""

from __future__ import annotations

import hashlib

from controller.copying.far import Far, full
from controller.copying.source import Source
from controller.words.errors import CopyError


async def put(far: Far, name: str, source: Source) -> bool:
    """Have the file in its place under its name, verified; whether it had to be sent. Raises CopyError.

    What already lies there is read: it is the file, or it is kept under another name. Nothing is ever written over.
    """
    if await far.size(name) is not None:
        found = await _digest(far, name)
        if found == source.sha256:
            source.whole()
            return False
        await far.set_aside(name, await _unused(far, f"{name}.was-{found[:12]}"))
    room = await far.room()
    if room.free_bytes is not None and room.free_bytes < source.size:
        raise full()
    try:
        sent = await far.send(name, source)
    except CopyError as error:
        if error.file:
            await far.discard(name)
        raise
    if not sent.vouched and await _digest(far, sent.name) != source.sha256:
        await far.discard(name)
        what = "what was sent reads back different"
        remedy = "It is sent again. Where it comes again, the disk or the line there is bad"
        raise CopyError("copy-damaged", what, name, remedy, True)
    await far.put_name(sent, name)
    return True


async def there(far: Far, name: str, sha256: str) -> bool:
    """Whether the whole file, as the log has it, can be read there now. Raises CopyError where that cannot be told."""
    return await far.size(name) is not None and await _digest(far, name) == sha256


async def _unused(far: Far, name: str) -> str:
    number, tried = 1, name
    while await far.size(tried) is not None:
        number += 1
        tried = f"{name}-{number}"
    return tried


async def _digest(far: Far, name: str) -> str:
    digest = hashlib.sha256()
    async for piece in far.read(name):
        digest.update(piece)
    return digest.hexdigest()
