"""No form and no address of the pages answers with an error of ours, whatever is sent."""

import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from tests.config.permission_table import PAGES
from tests.config.things import Things
from tests.fuzz.conftest import ROLES, SCALE, examples, signed_in
from tests.fuzz.pages import Target, address_values, filled, find_targets, one_of_each, parts_of, routes
from tests.fuzz.sending import Findings, Sent, as_filled, quoted
from tests.fuzz.values import ANY_EXTREME, BAD_ENCODINGS, CONTENT_TYPES, EXTREMES, hostile_files, hostile_words

pytestmark = [pytest.mark.long, pytest.mark.usefixtures("no_record_of_templates")]
EXAMPLES = 2 * SCALE
# Signing out would end the session of all that follows; its form has no field.
LEFT_OUT = {"sign_out"}


@pytest.mark.parametrize("letter", ROLES)
def test_each_field_at_its_extremes(things: Things, letter: str) -> None:
    """One field after the other, the rest as the page fills it in."""
    client, found = signed_in(things, letter), Findings()
    for target in _targets(client, things, letter):
        sent = as_filled(target)
        found.look(client, sent)
        for field in one_of_each(target.fields):
            for value in EXTREMES.get(field.kind, ANY_EXTREME):
                found.look(client, sent.turned(field.name, value))
    assert not found.report(), found.report()


def _targets(client: Client, things: Things, letter: str) -> list[Target]:
    """What a role may send. In a short run a coordinator sends only what a teacher can't."""
    by_route = find_targets(client, letter, things)
    found = [one for route, targets in by_route.items() if route not in LEFT_OUT for one in targets]
    if letter != "C" or SCALE > 1:
        return found
    others = find_targets(signed_in(things, "T"), "T", things).values()
    sent_by_teachers = {one.shape for targets in others for one in targets}
    return [one for one in found if one.shape not in sent_by_teachers]


@pytest.mark.parametrize("letter", ROLES)
def test_anything_anywhere(things: Things, letter: str) -> None:
    """Several odd things at once: values, names, addresses, encodings, uploads."""
    client, found = signed_in(things, letter), Findings()
    by_route = find_targets(client, letter, things)
    pool = sorted({one.name for targets in by_route.values() for target in targets for one in target.fields})
    templates = routes()
    for route in sorted(set(by_route) - LEFT_OUT):
        kept = address_values(PAGES[route], things)
        _look(client, found, requests(by_route[route], templates[route], kept, pool))
    assert not found.report(), found.report()


def _look(client: Client, found: Findings, strategy: st.SearchStrategy[Sent]) -> None:
    @examples(EXAMPLES)
    @given(strategy)
    def look(sent: Sent) -> None:
        found.look(client, sent)

    look()


@st.composite
def requests(draw: st.DrawFn, targets: list[Target], template: str, kept: dict[str, str], pool: list[str]) -> Sent:
    """What a page would send, with something of it turned into something else."""
    target = draw(st.sampled_from(targets))
    sent = as_filled(target)
    tail = f"&{quoted(draw(st.sampled_from(pool)))}={draw(st.sampled_from(BAD_ENCODINGS))}"
    return Sent(
        target.method,
        draw(_paths(target.path, template, kept)),
        tuple(draw(_values(sent.values, pool))),
        tuple((name, draw(hostile_files())) for name in target.files),
        draw(st.sampled_from(["", "", tail])),
        draw(st.sampled_from(["", "", "", "", *CONTENT_TYPES])) if target.method == "post" else "",
    )


@st.composite
def _values(draw: st.DrawFn, values: tuple[tuple[str, str], ...], pool: list[str]) -> list[tuple[str, str]]:
    """Some turned, perhaps one left out, perhaps others added or sent twice."""
    names = sorted({name for name, _ in values})
    if names:
        turned = {name: draw(hostile_words()) for name in draw(st.lists(st.sampled_from(names), max_size=4))}
        dropped = draw(st.sampled_from(["", "", "", *names]))
        values = tuple((name, turned.get(name, value)) for name, value in values if name != dropped)
    more = draw(st.lists(st.sampled_from(pool), max_size=2))
    return [*values, *((name, draw(hostile_words())) for name in more)]


@st.composite
def _paths(draw: st.DrawFn, path: str, template: str, kept: dict[str, str]) -> str:
    """Mostly the target's own; sometimes a part of it is something else."""
    if not kept or draw(st.integers(0, 4)):
        return path
    parts = {name: draw(st.one_of(st.just(kept[name]), hostile_words())) for name in parts_of(template)}
    return filled(template, {name: quoted(value) for name, value in parts.items()})
