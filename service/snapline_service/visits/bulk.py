"""Many visits in one request: a line of NDJSON in, a line out, and one bad line spoils none of the others."""

import asyncio
import codecs
from collections.abc import AsyncIterable, AsyncIterator, Callable

import msgspec

from snapline.wire.visits import BulkLine, VisitPlan, VisitRequest
from snapline_service import problems, requests
from snapline_service.errors import BodyTooLarge, BodyTooSlow, SnaplineError

PATH = "/v1/visits/plan/bulk"
MEDIA_TYPE = "application/x-ndjson"
MAX_LINE_BYTES = 100_000
PlanOne = Callable[[VisitRequest], VisitPlan]


async def answers(chunks: AsyncIterable[bytes], plan_one: PlanOne, request_id: str) -> AsyncIterator[bytes]:
    """Yield an answer for every line that is not empty, as soon as it is there, with the number of its line.

    No more than one line is held at a time. A line that is too long is answered as such, and passed over. A
    byte order mark at the very beginning, as spreadsheets and editors write it, is dropped.
    """
    number = 0
    try:
        async for whole in _lines(chunks):
            number += 1
            line = whole.removeprefix(codecs.BOM_UTF8) if whole and number == 1 else whole
            if line is None or line.strip():
                answer = await asyncio.to_thread(_answer, line, number, plan_one, request_id)
                yield msgspec.json.encode(answer) + b"\n"
    except BodyTooSlow as error:
        problem = problems.problem_of(error, request_id, PATH)
        yield msgspec.json.encode(BulkLine(line=number + 1, problem=problem)) + b"\n"


async def _lines(chunks: AsyncIterable[bytes]) -> AsyncIterator[bytes | None]:
    """Yield lines without their ends; None stands for one that is too long."""
    held, too_long = b"", False
    async for chunk in chunks:
        *whole, held = (held + chunk).split(b"\n")
        for line in whole:
            yield None if too_long or len(line) > MAX_LINE_BYTES else line
            too_long = False
        if len(held) > MAX_LINE_BYTES:
            held, too_long = b"", True
    if held or too_long:
        yield None if too_long else held


def _answer(line: bytes | None, number: int, plan_one: PlanOne, request_id: str) -> BulkLine:
    try:
        if line is None:
            raise BodyTooLarge("The line is too long.", mend=f"Send at most {MAX_LINE_BYTES:,} bytes a line.")
        return BulkLine(line=number, plan=plan_one(requests.decode(line, VisitRequest)))
    except SnaplineError as error:
        problem = problems.problem_of(error, request_id, PATH)
    except Exception:  # one visit must not spoil the others; the log has the rest
        problem = problems.unexpected(request_id, PATH)
    return BulkLine(line=number, problem=problem)
