"""`fejoint guide`."""

from __future__ import annotations

from fejoint.cli import console
from fejoint.cli.options import Json


def guide(topic: str | None = None, /, *, as_json: Json = False) -> None:
    """Show a page of the guide, or list its pages.

    Parameters
    ----------
    topic
        The page to show; a list of the pages if left out.
    """
    from fejoint import guide as pages

    if topic is None:
        if as_json:
            console.say_json(dict(pages.TOPICS), indent=None)
            return
        console.say_table(("page", "about"), list(pages.TOPICS.items()), left=("page", "about"))
        console.say("", "fejoint guide PAGE shows one.")
        return
    text = pages.page(topic)
    if as_json:
        console.say_json({"topic": topic, "markdown": text}, indent=None)
    else:
        console.say_markdown(text)
