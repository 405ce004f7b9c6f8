"""The pages can be built without a warning, lead somewhere, and load nothing from elsewhere."""

import os
import re
import subprocess
import sys
from html.parser import HTMLParser
from urllib.parse import unquote, urlsplit

import pytest

from tests.docs.pages import ROOT

_LOADS = {"script": "src", "img": "src", "link": "href", "iframe": "src", "source": "src"}


class Page(HTMLParser):
    """Targets of the links of a page, what it loads, and the places on it."""

    def __init__(self, text):
        super().__init__()
        self.links, self.loaded, self.places = [], [], {""}
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        if given.get("id"):
            self.places.add(given["id"])
        if tag == "a" and given.get("href"):
            self.links.append(given["href"])
        loads = given.get(_LOADS.get(tag, ""))
        if loads and not (
            tag == "link" and given.get("rel") in ("next", "prev", "index", "search")
        ):
            self.loaded.append(loads)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    out = tmp_path_factory.mktemp("docs") / "html"
    command = [sys.executable, "-m", "sphinx", "-W", "--keep-going", "-q", "-b", "html"]
    environment = os.environ | {"PYTHONWARNINGS": "default", "LC_ALL": "C.UTF-8"}
    done = subprocess.run(
        [*command, str(ROOT / "docs"), str(out)],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        timeout=300,
    )
    assert done.returncode == 0, done.stdout
    return out


@pytest.fixture(scope="module")
def pages(site):
    return {
        path.relative_to(site).as_posix(): Page(path.read_text(encoding="utf-8"))
        for path in sorted(site.rglob("*.html"))
    }


def test_every_page_of_the_folder_is_built(site, pages):
    sources = {path.relative_to(ROOT / "docs").with_suffix(".html").as_posix()
               for path in (ROOT / "docs").rglob("*.md")}  # fmt: skip
    assert sources <= set(pages)


def test_built_pages_load_nothing_from_elsewhere(site, pages):
    for name, page in pages.items():
        for target in page.loaded:
            parts = urlsplit(target)
            assert parts.scheme in ("", "data"), f"{name} loads {target}"
            assert not parts.netloc, f"{name} loads {target}"
    for path in [*site.rglob("*.css"), *site.rglob("*.js")]:
        text = path.read_text(encoding="utf-8")
        fetched = re.findall(r"(?:url\(|@import\s+|import\()[\"']?(?:https?:)?//[^\"')\s]+", text)
        assert fetched == [], path.name


def test_links_between_built_pages_lead_somewhere(site, pages):
    for name, page in pages.items():
        for link in page.links:
            parts = urlsplit(link)
            if parts.scheme or parts.netloc:
                continue
            target = (site / name).parent / unquote(parts.path) if parts.path else site / name
            assert target.exists(), f"{name}: {link}"
            key = os.path.relpath(target, site).replace(os.sep, "/")
            if parts.fragment and key in pages:
                assert unquote(parts.fragment) in pages[key].places, f"{name}: {link}"
