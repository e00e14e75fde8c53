"""Pages of protocols: what each site works by, and taking a new one into use."""

import tempfile
from pathlib import Path

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from sidelong.clinic.accounts.access import StaffRequest, requires
from sidelong.clinic.accounts.roles import Permission
from sidelong.clinic.protocols.actions import take_up_ladder, take_up_protocol
from sidelong.clinic.protocols.forms import LadderForm, ProtocolForm, Sent
from sidelong.clinic.protocols.queries import known_sites, site_rules
from sidelong.exchange.pieces import read_ladder
from sidelong.exchange.protocols import parse_protocol
from sidelong.problems import Problem, Refused
from sidelong.training.ladder import Ladder


@requires(Permission.SEE_TRAINEES)
@require_GET
def protocols(request: StaffRequest) -> HttpResponse:
    """Show what each site works by."""
    return _page(request)


@requires(Permission.TAKE_UP_PROTOCOLS)
@require_POST
def new_protocol(request: StaffRequest) -> HttpResponse:
    """Take a signed protocol into use for the site that it names."""
    form = ProtocolForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, protocol_form=form)
    try:
        sent: Sent = form.cleaned_data["file"]
        protocol = parse_protocol(sent.content, file=sent.name)
        take_up_protocol(protocol=protocol, now=timezone.now(), by=request.user)
    except Refused as refused:
        return _page(request, problems=refused.problems)
    messages.success(request, f"Protocol {protocol.version} is in use at {protocol.site}.")
    return redirect("protocols")


@requires(Permission.TAKE_UP_PROTOCOLS)
@require_POST
def new_ladder(request: StaffRequest, site: str) -> HttpResponse:
    """Take a table of pieces into use at a site."""
    form = LadderForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, ladder_form=form)
    try:
        ladder = _read_ladder(form.cleaned_data["file"])
        number = take_up_ladder(site=site, ladder=ladder, now=timezone.now(), by=request.user)
    except Refused as refused:
        return _page(request, problems=refused.problems)
    messages.success(request, f"Ladder {number} is in use at {site}.")
    return redirect("protocols")


def _read_ladder(sent: Sent) -> Ladder:
    """Read a table as the command does: from a file, with its own name in every message."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / Path(sent.name).name
        path.write_bytes(sent.content)
        return read_ladder(path)


def _page(
    request: StaffRequest,
    *,
    protocol_form: ProtocolForm | None = None,
    ladder_form: LadderForm | None = None,
    problems: tuple[Problem, ...] = (),
) -> HttpResponse:
    sites = known_sites(seen_by=request.user)
    shown = {
        "sites": [(site, site_rules(site, seen_by=request.user)) for site in sites],
        "protocol_form": protocol_form or ProtocolForm(),
        "ladder_form": ladder_form or LadderForm(auto_id="ladder_%s"),
        "problems": problems,
        "may_take_up": Permission.TAKE_UP_PROTOCOLS in request.user.permissions,
    }
    return render(request, "protocols/protocols.html", shown, status=400 if problems else 200)
