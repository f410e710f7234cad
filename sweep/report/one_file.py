"""The first page as one file that opens by itself: its styles, scripts and data inside, the cards and the cautions after it.

It is made of the pages as they were rendered. A link to what is inside leads there; what is not inside is no link any more.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping

SCRIPT = re.compile(r'<script defer src="([^"]+)"></script>\n?')
STYLE = '<link rel="stylesheet" href="parts/style.css">'
POLICY = re.compile(r'(http-equiv="Content-Security-Policy" content=)"[^"]*"')
MAIN = re.compile(r'<main id="content">\n(.*)</main>', re.DOTALL)
PAGES = re.compile(r'<nav aria-label="Pages">.*?</nav>', re.DOTALL)
PICTURE = re.compile(r'<meta property="og:image" [^>]*>\n?')
DOWNLOAD = re.compile(r'<a href="[^"]*" download>.*?</a>', re.DOTALL)
LINK = re.compile(r'<a href="([^"#]+)(?:#[^"]*)?"([^>]*)>(.*?)</a>', re.DOTALL)
NAMED = re.compile(r' (id|for|aria-labelledby|aria-describedby)="([^"]+)"')
INNER = re.compile(r'href="#([^"]+)"')
PAGE_OF = re.compile(r'"((?:design|card)-\d+\.html)"')


def one_file(files: Mapping[str, str]) -> str:
    """A site's first page with all that it needs; files: of the whole site, by their path."""
    inside = [name for name in sorted(files) if re.fullmatch(r"card-\d+\.html", name)] + ["cautions.html"]
    page = files["index.html"]
    scripts = [_closed(_unlinked(files[name], inside)) for name in SCRIPT.findall(page)]
    page = PICTURE.sub("", PAGES.sub("", SCRIPT.sub("", page))).replace('<link rel="icon" href="parts/icon.svg">\n', "")
    more = "".join(_section(name, files[name]) for name in inside)
    page = _linked(page.replace("</main>", f"{more}</main>"), inside)
    style = files["parts/style.css"]
    page = page.replace(STYLE, f"<style>{style}</style>")
    page = POLICY.sub(lambda found: f'{found[1]}"{_policy(scripts, style)}"', page)
    return page.replace("</body>", "".join(f"<script>{script}</script>\n" for script in scripts) + "</body>")


def _policy(scripts: list[str], style: str) -> str:
    """Nothing runs but what is inside, known by its digest."""
    allowed = " ".join(dict.fromkeys(_digest(script) for script in scripts))
    return f"default-src 'none'; script-src {allowed}; style-src {_digest(style)}; base-uri 'none'; form-action 'none'"


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _closed(script: str) -> str:
    """A script that ends only where its element does."""
    return script.replace("</script", "<\\/script")


def _section(name: str, page: str) -> str:
    """The body of another page as a section of this one, its headings one lower and its names its own."""
    anchor, found = name.removesuffix(".html"), MAIN.search(page)
    body = found[1] if found else ""
    body = re.sub(r"<(/?)h2\b", r"<\1h3", body)
    body = re.sub(r"<(/?)h1\b", r"<\1h2", body)
    body = NAMED.sub(lambda at: f' {at[1]}="{anchor}-{at[2]}"', body)
    body = INNER.sub(lambda at: f'href="#{anchor}-{at[1]}"', body)
    return f'<section id="{anchor}">\n{body}</section>\n'


def _linked(page: str, inside: list[str]) -> str:
    def link(found: re.Match[str]) -> str:
        target = found[1]
        if target in inside:
            return f'<a href="#{target.removesuffix(".html")}"{found[2]}>{found[3]}</a>'
        return found[0] if target.startswith("data:") else found[3]

    return LINK.sub(link, DOWNLOAD.sub("", page))


def _unlinked(script: str, inside: list[str]) -> str:
    """Data whose designs lead to their cards, if these are inside."""

    def place(found: re.Match[str]) -> str:
        card = found[1].replace("design-", "card-")
        return f'"#{card.removesuffix(".html")}"' if card in inside else '""'

    return PAGE_OF.sub(place, script)
