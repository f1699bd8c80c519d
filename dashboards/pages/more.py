"""What is seldom needed, in one list: a phone's navigation has no room for it."""

from fastapi import APIRouter, Request, Response

from dashboards.pages.rendering import UNDER_MORE, household_of, renderer
from service.api.context import WithContext, WithSession

router = APIRouter()


@router.get("/more")
def more(request: Request, context: WithContext, session: WithSession) -> Response:
    """The pages that are seldom needed."""
    household = household_of(session, context)
    return renderer(request).page(request, household, "more.html", entries=UNDER_MORE)
