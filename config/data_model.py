"""The data model as a page of Mermaid pictures, drawn from Django's own register of models.

A command of our own because the kept libraries draw by Django app (django-extensions, django-er-diagram), which
here is a floor with up to thirty tables in one picture; the rooms are packages inside it. django-extensions needs
Graphviz besides. Mermaid is text that code hosts and editors draw by themselves.
"""

from collections.abc import Iterable, Iterator
from typing import Any

from django.apps import apps
from django.db.models import Field, ForeignKey, ManyToManyField, Model, OneToOneField

type Column = Field[Any, Any]

FLOORS = ("schedule", "caseload", "travel", "accounts", "jobs")
"""From the top down, as docs/house.md lists them."""

EVERYWHERE = ("District", "Person", "Building")
"""Tables that nearly every other refers to: lines to them would hide the rest of the picture of all tables."""

KINDS = {
    "BigAutoField": "id", "BinaryField": "bytes", "BooleanField": "flag", "CharField": "text", "DateField": "date",
    "DateTimeField": "moment", "DecimalField": "decimal", "EmailField": "text", "FloatField": "float",
    "JSONField": "json", "SlugField": "text", "TextField": "text", "TimeField": "time", "URLField": "text",
    "UUIDField": "uuid",
}  # fmt: skip
"""What a column holds, in a word; every other kind is one of Django's whole numbers."""

HEAD = """# The data model

Drawn from the models by `python manage.py draw_tables`; nothing here is written by hand, and
`tests/config/house/test_data_model.py` holds that it is current. Tables are grouped by the rooms of
[house.md](house.md).
Django's own tables (groups, permissions, sessions) and those of libraries are left out.

## All tables

An arrow runs from the table that holds a key to the table that it points to. Keys to `District`, `Person`
and `Building` are left out, since most tables have one. They are in the pictures of the rooms below.
"""


def page() -> str:
    """The whole page, the same for the same models."""
    parts = [HEAD, _fenced(_overview())]
    for floor in FLOORS:
        parts.append(f"## {floor}\n")
        for room in _rooms(floor):
            parts += [f"### {room}\n", _fenced(_room_picture(room))]
    return "\n".join(parts)


def _fenced(lines: Iterable[str]) -> str:
    return "\n".join(["```mermaid", *lines, "```", ""])


def _room_of(model: type[Model]) -> str:
    """The package of a model's room: what stands before ``models`` in its path."""
    return model.__module__.partition(".models")[0]


def _models() -> list[type[Model]]:
    """The tables of the house, by floor, room and name."""
    ours = [model for floor in FLOORS for model in apps.get_app_config(floor).get_models()]
    return sorted(ours, key=lambda model: (FLOORS.index(model._meta.app_label), _room_of(model), model.__name__))


def _rooms(floor: str) -> list[str]:
    return sorted({_room_of(model) for model in _models() if model._meta.app_label == floor})


def _keys(model: type[Model]) -> list[tuple[Column, type[Model]]]:
    """The keys of a table with the tables that they point to, those of libraries left out."""
    ours = set(_models())
    fields = [*model._meta.fields, *model._meta.many_to_many]
    return [
        (field, field.related_model)
        for field in fields
        if isinstance(field, ForeignKey | ManyToManyField) and field.related_model in ours
    ]


def _overview() -> Iterator[str]:
    yield "flowchart LR"
    for room in [room for floor in FLOORS for room in _rooms(floor)]:
        yield f'  subgraph {room.replace(".", "_")}["{room}"]'
        yield from (f"    {model.__name__}" for model in _models() if _room_of(model) == room)
        yield "  end"
    for model in _models():
        targets = dict.fromkeys(target.__name__ for _, target in _keys(model))
        yield from (f"  {model.__name__} --> {name}" for name in targets if name not in EVERYWHERE)


def _room_picture(room: str) -> Iterator[str]:
    yield "erDiagram"
    for model in (one for one in _models() if _room_of(one) == room):
        yield f"  {model.__name__} {{"
        yield from (f"    {_column(field)}" for field in model._meta.fields)
        yield "  }"
        for field, target in _keys(model):
            yield f"  {target.__name__} {_crowfoot(field)} {model.__name__} : {field.name}"


def _column(field: Column) -> str:
    if isinstance(field, ForeignKey):
        return f"key {field.name} FK"
    kind = KINDS.get(field.get_internal_type(), "number")
    return f"{kind} {field.name}" + (" PK" if field.primary_key else "")


def _crowfoot(field: Column) -> str:
    """How many rows stand at each end: the table pointed to on the left, the one with the key on the right."""
    if isinstance(field, ManyToManyField):
        return "}o--o{"
    one = "|o" if field.null else "||"
    return f"{one}--o|" if isinstance(field, OneToOneField) else f"{one}--o{{"
