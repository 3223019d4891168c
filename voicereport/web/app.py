"""The application: its routers, its errors as pages, its static files."""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from fastapi.routing import APIRoute
from starlette.exceptions import HTTPException

from voicereport import __version__
from voicereport.errors import PackError, SettingsError, TemplateError, VoiceReportError
from voicereport.settings import Settings
from voicereport.store import Store, StoreError
from voicereport.web import access, answers
from voicereport.web.company import CompanyFile
from voicereport.web.guard import Guard
from voicereport.web.limits import RateLimit
from voicereport.web.options import WebOptions
from voicereport.web.pages import say, static_files
from voicereport.web.site import Site

if TYPE_CHECKING:
    from fastapi import APIRouter

API = "/api/v1"
_STATUS = {"not_found": 404, "conflict": 409, "refused": 422, "damaged": 500}


def create_app(settings: Settings, store: Store, options: WebOptions | None = None) -> FastAPI:
    """The pages and the API over a store. Raises SettingsError where the company's own file cannot be used."""
    options = options or WebOptions()
    app = FastAPI(title="voicereport", version=__version__, docs_url=None, redoc_url=None,
                  openapi_url=f"{API}/openapi.json", redirect_slashes=False)  # fmt: skip
    app.state.site = Site(store=store, settings=settings, options=options,
                          company=CompanyFile(options.folder, settings),
                          sign_ins=RateLimit(options.sign_ins_a_minute))  # fmt: skip
    technician = _technician()
    app.state.technician = technician is not None
    for router in _routers():
        app.include_router(router, include_in_schema=router.prefix == API)
    if technician is not None:
        app.include_router(technician, include_in_schema=False)
    app.add_api_route("/static/{digest}/{name}", static, include_in_schema=False)
    app.add_api_route("/", home, include_in_schema=False)
    _answer_errors(app)
    app.add_middleware(Guard, options=options)
    return app


def _routers() -> tuple[APIRouter, ...]:
    from voicereport.web import (
        api,
        appliances,
        company_pages,
        decisions,
        doubts,
        edit_pages,
        issue,
        jobs,
        oversight,
        people,
        report_pages,
        search,
        sign_in,
        sound,
        trail,
    )

    modules = (sign_in, people, jobs, report_pages, edit_pages, doubts, sound, decisions, issue, company_pages,
               appliances, oversight, search, trail, api)  # fmt: skip
    return tuple(module.router for module in modules)


def _technician() -> APIRouter | None:
    """The technician's live page, where this build has it: voicereport/web/technician.py, `router`."""
    if find_spec("voicereport.web.technician") is None:
        return None
    from importlib import import_module

    router: APIRouter = import_module("voicereport.web.technician").router
    return router


def static(digest: str, name: str) -> Response:
    """A static file under its digest; it may be kept for a year, since another content has another address."""
    file = static_files().get(name)
    if file is None or file.digest != digest:
        raise access.NotThereError
    kept = {"cache-control": "public, max-age=31536000, immutable"}
    return Response(file.content, media_type=file.kind, headers=kept)


def home(request: Request) -> Response:
    """To where this person works."""
    site: Site = request.app.state.site
    me = access.me_of(request)
    if me is None:
        return RedirectResponse("/signin" if site.store.people.any() else "/setup", status_code=303)
    if me.may("own_work") and request.app.state.technician:
        return RedirectResponse("/onsite", status_code=303)
    return RedirectResponse("/oversight" if me.may("oversee") else "/jobs", status_code=303)


def _answer_errors(app: FastAPI) -> None:
    def handler(status: int, key: str) -> Any:
        def answer(request: Request, error: Exception) -> Response:
            return failure(request, status, say("failure", key))

        return answer

    def not_signed_in(request: Request, error: Exception) -> Response:
        if request.url.path.startswith(API):
            return failure(request, 401, say("failure", "not_signed_in"), {"www-authenticate": "Bearer"})
        site: Site = request.app.state.site
        if not site.store.people.any():
            return RedirectResponse("/setup", status_code=303)
        wanted = f"?next={request.url.path}" if request.method == "GET" and request.url.path != "/" else ""
        return RedirectResponse(f"/signin{wanted}", status_code=303)

    def refused(request: Request, error: Exception) -> Response:
        if not isinstance(error, VoiceReportError):
            raise error
        status = 500 if isinstance(error, TemplateError | PackError | SettingsError) else 422
        status = _STATUS[error.kind] if isinstance(error, StoreError) else status
        return failure(request, status, str(error))

    def http(request: Request, error: Exception) -> Response:
        if not isinstance(error, HTTPException):
            raise error
        keys = {404: "not_there", 405: "wrong_method"}
        sentence = say("failure", keys[error.status_code]) if error.status_code in keys else str(error.detail)
        headers = dict(error.headers or {})
        if error.status_code == 405:
            headers["allow"] = ", ".join(_methods(request))
        return failure(request, error.status_code, sentence, headers)

    def invalid(request: Request, error: Exception) -> Response:
        if not isinstance(error, RequestValidationError):
            raise error
        faults = [f"{'.'.join(str(part) for part in fault['loc'][1:])}: {fault['msg']}" for fault in error.errors()]
        return failure(request, 422, "; ".join(faults[:5]) or say("failure", "invalid"))

    app.add_exception_handler(access.NotSignedInError, not_signed_in)
    app.add_exception_handler(access.NotAllowedError, handler(403, "not_allowed"))
    app.add_exception_handler(access.NotGenuineError, handler(403, "not_genuine"))
    app.add_exception_handler(access.NotThereError, handler(404, "not_there"))
    app.add_exception_handler(VoiceReportError, refused)
    app.add_exception_handler(HTTPException, http)
    app.add_exception_handler(RequestValidationError, invalid)


def _methods(request: Request) -> list[str]:
    """The methods of every route that has this path: two routes may share one."""
    routes = [route for entry in request.app.routes for route in _flat(entry)]
    fitting = [route for route in routes if route.path_regex.match(request.url.path)]
    return sorted({method for route in fitting for method in route.methods or ()})


def _flat(entry: Any) -> list[APIRoute]:
    """A route, or the routes of an included router."""
    if isinstance(entry, APIRoute):
        return [entry]
    contexts = entry.effective_route_contexts() if hasattr(entry, "effective_route_contexts") else ()
    return [context.original_route for context in contexts if isinstance(context.original_route, APIRoute)]


def failure(request: Request, status: int, sentence: str, headers: dict[str, str] | None = None) -> Response:
    """What went wrong, as a page, or as JSON for the API and whoever asks for it."""
    if request.url.path.startswith(API) or "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"problem": sentence}, status_code=status, headers=headers)
    me = access.me_of(request)
    back = answers.safe_path(_path_of(request.headers.get("referer", ""))) if me else "/"
    answer = answers.page(request, me, "failure.html", status=status, sentence=sentence, back=back)
    answer.headers.update(headers or {})
    return answer


def _path_of(address: str) -> str:
    """The path of an address: "http://host/jobs/3?x" is "/jobs/3"."""
    rest = address.partition("://")[2]
    return "/" + rest.partition("/")[2].partition("?")[0].partition("#")[0]
