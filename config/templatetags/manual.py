"""The help of a page, one tap away in the frame around it."""

from typing import Any

from django import template
from django.template.context import Context

from config.manual.chapters import chapter_address
from config.manual.help import help_of

register = template.Library()


@register.inclusion_tag("manual/_help.html", takes_context=True)
def page_help(context: Context, name: str = "") -> dict[str, Any]:
    """The help of the page that is shown, or of the one that is named; that of an error where there is none."""
    match = getattr(context.get("request"), "resolver_match", None)
    found = help_of(name or (match.view_name if match else "")) or help_of("error")
    if found is None:
        raise template.TemplateSyntaxError("There is no help for a page without any.")
    return {"lines": found.lines, "address": chapter_address(found.chapter, found.section)}
