"""Make the guide one HTML file that needs no other, with pictures of the demo joint.

.venv/bin/python scripts/guide.py guide.html [--no-pictures]
"""

from __future__ import annotations

import base64
import re
import sys
from pathlib import Path

from markdown_it import MarkdownIt

import fejoint
from fejoint import guide
from fejoint.files import write_atomically
from fejoint.output import report
from fejoint.output.pictures import drawing_of
from fejoint.output.pictures.theme import encoded
from fejoint.system import resources

DEMO = resources.folder("demo")
STYLE = """
pre { overflow-x: auto; background: #f4f6f7; padding: .6rem; font-size: .78rem; }
pre { white-space: pre-wrap; }
code { overflow-wrap: anywhere; }
td:first-child code { white-space: nowrap; }
h1 { margin-top: 2.4rem; }
nav li { margin: .3rem 0; }
@media (max-width: 36rem) { pre { white-space: pre; } }
"""
PICTURE = re.compile(r"^!\[(.*)\]\((.*)\)$", re.MULTILINE)


def html(pictures: bool) -> str:
    """Return the whole guide."""
    shown: dict[str, str] = {}
    field = ""
    if pictures:
        answer = fejoint.pull(DEMO / "hard-pin.toml")
        for topic, what in (("first-joint", "limits"), ("case-file", "drawing"), ("rig", "curve")):
            drawn, pixels = drawing_of(answer, what)
            data = base64.b64encode(encoded(drawn, "svg", pixels)).decode()
            shown[topic] = (
                f'<figure><img alt="{what}" src="data:image/svg+xml;base64,{data}"></figure>'
            )
        plastic = base64.b64encode((DEMO / "hard-pin-plastic-strain.png").read_bytes()).decode()
        field = f"data:image/png;base64,{plastic}"
    md = MarkdownIt("commonmark", {"html": False}).enable("table")
    parts = [f"<style>{STYLE}</style><h1>fejoint: the guide</h1><nav><ul>"]
    parts += [f'<li><a href="#{t}">{t}</a>: {about}</li>' for t, about in guide.TOPICS.items()]
    parts.append("</ul></nav>")
    for topic in guide.TOPICS:
        text = guide.page(topic)
        text = PICTURE.sub(r"![\1](picture)" if pictures else "", text)
        made = md.render(text).replace('src="picture"', f'src="{field}" style="max-width:100%"')
        made = made.replace("<table>", '<div class="wide"><table>').replace(
            "</table>", "</table></div>"
        )
        parts.append(f'<section id="{topic}">{made}{shown.get(topic, "")}</section>')
    return report.framed("fejoint: the guide", "\n".join(parts))


if __name__ == "__main__":
    words = [word for word in sys.argv[1:] if word != "--no-pictures"]
    target = Path(words[0] if words else "guide.html")
    write_atomically(target, html("--no-pictures" not in sys.argv))
    print(f"wrote {target}")
