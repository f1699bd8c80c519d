"""The site, and the browsers that are signed in for a keeper."""

from http import HTTPStatus

from fastapi import APIRouter

from service.api import naming
from service.api.access import WithAsker, WithWorldTime
from service.api.bodies import PathId, SiteBody
from service.api.context import WithContext, WithSession
from service.api.household_shapes import BrowserAnswer, SiteAnswer
from service.errors import UnknownError
from service.store import people, places

router = APIRouter(tags=["household"])


@router.get("/site")
def site(session: WithSession) -> SiteAnswer:
    """The household."""
    found = places.the_site(session)
    if found is None:
        raise UnknownError("no site has been entered yet")
    return SiteAnswer.model_validate(found)


@router.post("/site")
def set_site(context: WithContext, session: WithSession, body: SiteBody) -> SiteAnswer:
    """Enter the household, or change what was entered."""
    changed = naming.set_site(
        session,
        body.name,
        body.slug,
        body.time_zone,
        context.clock.now_us(),
        fahrenheit=body.fahrenheit,
    )
    return SiteAnswer.model_validate(changed)


@router.get("/browsers")
def list_browsers(
    session: WithSession, asker: WithAsker, now_us: WithWorldTime
) -> list[BrowserAnswer]:
    """The browsers that are signed in for whoever asks; none where no sign-in is needed."""
    if asker.person_id is None:
        return []
    return [
        BrowserAnswer(
            id=browser.id,
            device=browser.device,
            since=browser.created_us,
            expires=browser.expires_us,
            this_one=browser.id == asker.sign_in_id,
        )
        for browser in people.sign_ins_of(session, asker.person_id, now_us)
        if browser.id is not None
    ]


@router.delete("/browsers/{browser_id}", status_code=HTTPStatus.NO_CONTENT)
def sign_browser_out(session: WithSession, asker: WithAsker, browser_id: PathId) -> None:
    """Sign one browser out, such as that of a phone that was lost."""
    if asker.person_id is None:
        raise UnknownError("no browser is signed in")
    people.end_sign_in(session, asker.person_id, browser_id)
