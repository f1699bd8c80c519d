"""Signing in by password or by a code on the phone, and signing out."""

from typing import Annotated

from fastapi import APIRouter, Form, Path, Request, Response

from dashboards.drawings.codes import qr_code
from dashboards.pages.rendering import household_of, renderer, see_other
from dashboards.words import Words
from service.api import access, people
from service.api.access import (
    WithAsker,
    WithAttempts,
    WithCaller,
    WithPossibleAsker,
    WithWorldTime,
)
from service.api.context import WithContext, WithSession
from service.api.home_address import home_address
from service.api.refusals import AnswerableError
from service.clock import US_PER_S

router = APIRouter()

Code = Annotated[str, Path(pattern=r"^[A-Za-z0-9_-]{20,64}$")]


@router.get("/sign-in")
def sign_in_form(request: Request, context: WithContext, session: WithSession) -> Response:
    """The form."""
    target = access.safe_next(request.query_params.get("next"))
    return renderer(request).page(
        request,
        household_of(session, context),
        "sign_in.html",
        live=False,
        wrong="",
        name="",
        next=target,
    )


@router.post("/sign-in")
def sign_in(
    request: Request,
    context: WithContext,
    session: WithSession,
    attempts: WithAttempts,
    caller: WithCaller,
    world_us: WithWorldTime,
    name: Annotated[str, Form(max_length=200)] = "",
    password: Annotated[str, Form(max_length=1000)] = "",
    target: Annotated[str, Form(alias="next", max_length=2000)] = "/",
) -> Response:
    """Check name and password; wrong ones show the form again."""
    try:
        secret = people.sign_in(session, attempts, name, password, caller, world_us)
    except AnswerableError as error:
        return renderer(request).page(
            request,
            household_of(session, context),
            "sign_in.html",
            status=error.status,
            live=False,
            wrong=str(error)[:1].upper() + str(error)[1:] + ".",
            name=name,
            next=access.safe_next(target),
        )
    answer = see_other(access.safe_next(target))
    access.give_cookie(answer, request, secret)
    return answer


@router.post("/sign-out")
def sign_out(request: Request, session: WithSession, asker: WithAsker) -> Response:
    """Sign this browser out."""
    people.sign_out(session, asker)
    answer = see_other("/sign-in" if asker.person_id is not None else "/")
    access.take_cookie(answer, request)
    return answer


@router.get("/phone")
def phone(
    request: Request, context: WithContext, session: WithSession, asker: WithAsker
) -> Response:
    """How to use the pages on the phone; the code comes when it is asked for."""
    return renderer(request).page(
        request,
        household_of(session, context),
        "phone.html",
        live=False,
        code=None,
        reachable=asker.person_id is not None,
    )


@router.post("/phone")
def show_code(
    request: Request,
    context: WithContext,
    session: WithSession,
    asker: WithAsker,
    world_us: WithWorldTime,
) -> Response:
    """Show a new code; as a form, so that no page loaded ahead makes codes."""
    if asker.person_id is None:
        return see_other("/phone")
    code = people.make_phone_code(session, asker.person_id, world_us)
    household = household_of(session, context)
    address = f"{home_address(request, context.settings)}{access.PHONE_PATH}/{code}"
    expires_us = world_us + people.PHONE_CODE_S * US_PER_S
    answer = renderer(request).page(
        request,
        household,
        "phone.html",
        live=False,
        code=qr_code(address, "Code", border=2),
        address=address,
        expires=Words(household.words.zone).moment(expires_us),
    )
    answer.headers["cache-control"] = "no-store"
    return answer


@router.get("/phone/{code}")
def redeem_form(
    request: Request,
    context: WithContext,
    session: WithSession,
    asker: WithPossibleAsker,
    world_us: WithWorldTime,
    code: Code,
) -> Response:
    """One button: looking alone must not use the code up, for messengers look ahead."""
    del asker
    return renderer(request).page(
        request,
        household_of(session, context),
        "phone_code.html",
        live=False,
        good=people.phone_code_is_good(session, code, world_us),
    )


@router.post("/phone/{code}")
def redeem(
    request: Request,
    context: WithContext,
    session: WithSession,
    caller: WithCaller,
    world_us: WithWorldTime,
    code: Code,
) -> Response:
    """Sign this phone in, once."""
    try:
        secret = people.redeem_phone_code(session, code, caller, world_us)
    except AnswerableError as error:
        return renderer(request).page(
            request,
            household_of(session, context),
            "phone_code.html",
            status=error.status,
            live=False,
            good=False,
        )
    answer = see_other("/")
    access.give_cookie(answer, request, secret)
    return answer
