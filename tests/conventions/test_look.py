"""Does every page keep to the look: drawings, readable colours, nothing the policy forbids?"""

from __future__ import annotations

import gzip
import json
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from pathlib import Path

import pytest

from batches.core.stages import Stage
from batches.services.joined_files import JOINED, joined_text
from batches.services.package_files import PACKAGE_FILES
from batches.templatetags.drawings import all_drawings

ROOT = Path(__file__).resolve().parents[2]
CSS_PATH = ROOT / "static" / "css" / "frond.css"
CSS = CSS_PATH.read_text(encoding="utf-8")
BENCH_PATH = CSS_PATH.with_name("bench.css")
BENCH_CSS = BENCH_PATH.read_text(encoding="utf-8")
RULES = re.sub(r"/\*.*?\*/", "", CSS + BENCH_CSS, flags=re.DOTALL)
SPRITE = ROOT / "static" / "glyphs" / "sprite.svg"
SCRIPTS = sorted(
    path
    for path in (ROOT / "static" / "js").glob("*.js")
    # The bench map takes pieces that the server drew.
    if path.name.startswith(("frond", "bench")) and path.name != "bench_map.js"
)
VOCABULARY = (ROOT / "docs" / "look.md").read_text(encoding="utf-8")
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
SVG = "{http://www.w3.org/2000/svg}"

# The stage words of checks.csv and transitions.csv (the records format), written out a second time.
RECORD_STAGES = [
    "sown",
    "gametophyte",
    "first_frond",
    "pegged_down",
    "rooted",
    "divided",
    "rooted_in",
    "pricked_out",
    "potted_up",
    "ready",
]
STATES = [
    "late",
    "due",
    "isolated",
    "held",
    "unlabelled",
    "resting",
    "shut",
    "trouble",
    "well",
    "waiting",
    "sent",
    "ended",
    "control",
    "caution",
]


def symbols() -> dict[str, ET.Element]:
    """Give every drawing of the sprite by its name."""
    found = ET.parse(SPRITE).getroot().findall(f"{SVG}symbol")  # noqa: S314 - our own file
    names = [symbol.attrib["id"] for symbol in found]
    assert len(names) == len(set(names))
    return {name.removeprefix("glyph-"): s for name, s in zip(names, found, strict=True)}


# Drawings


@pytest.mark.parametrize("stage", RECORD_STAGES)
def test_every_stage_of_the_records_has_a_drawing(stage: str) -> None:
    assert stage in symbols()


def test_the_stages_of_the_code_are_those_of_the_records() -> None:
    assert sorted(map(str, Stage)) == sorted(RECORD_STAGES)


@pytest.mark.parametrize("state", STATES)
def test_every_state_has_a_shape_of_its_own(state: str) -> None:
    assert state in symbols()


def test_no_two_drawings_are_the_same() -> None:
    shapes = [
        json.dumps([(part.tag, sorted(part.attrib.items())) for part in symbol.iter()][1:])
        for symbol in symbols().values()
    ]
    assert len(shapes) == len(set(shapes))


def test_drawings_take_their_colour_from_the_page_and_share_one_field() -> None:
    for name, symbol in symbols().items():
        assert symbol.attrib["viewBox"] == "0 0 24 24", name
        for part in symbol.iter():
            assert part.attrib.get("fill", "none") in {"none", "currentColor"}, name
            assert part.attrib.get("stroke", "none") in {"none", "currentColor"}, name
            assert not {"style", "class"} & set(part.attrib), name


def test_drawings_stay_inside_their_field() -> None:
    """Only the numbers of absolute commands are looked at; relative ones start from them."""
    for name, symbol in symbols().items():
        for part in symbol.iter(f"{SVG}circle"):
            x, y, r = (float(part.attrib[key]) for key in ("cx", "cy", "r"))
            assert r <= min(x, y, 24 - x, 24 - y), name
        for part in symbol.iter(f"{SVG}path"):
            for run in re.findall(r"[MLHVC]([-\d. ]+)", part.attrib["d"]):
                for number in re.findall(r"-?\d*\.?\d+", run):
                    assert 0 <= float(number) <= 24, (name, run)


def test_every_glyph_that_a_template_or_the_vocabulary_names_is_drawn() -> None:
    drawn = set(symbols())
    for text in [path.read_text(encoding="utf-8") for path in TEMPLATES] + [VOCABULARY]:
        named = re.findall(r'_glyph\.html" with (?:\w+=\S+ )*?name="([\w-]+)"', text)
        named += re.findall(r"#glyph-([\w-]+)", text)
        assert set(named) <= drawn, set(named) - drawn


def test_every_state_of_the_style_sheet_is_drawn() -> None:
    assert set(re.findall(r'data-state="([\w-]+)"', RULES)) <= set(symbols())


# The style sheet


def test_only_defined_custom_properties_are_used_and_all_defined_ones_are() -> None:
    defined = set(re.findall(r"(--[\w-]+)\s*:", RULES))
    used = set(re.findall(r"var\((--[\w-]+)", RULES))
    assert used - defined == set()
    # What is set on one component and read with a fallback counts as used, too.
    assert defined - used == set()


def test_colours_are_named_once_as_custom_properties() -> None:
    """A bare hex value outside the two blocks of tokens would escape the contrast test."""
    body = re.sub(r":root \{[^}]*\}", "", RULES)
    assert re.findall(r"#[0-9a-fA-F]{3,8}\b", re.sub(r"\.bench \{[^}]*\}", "", body)) == []


def test_braces_match_and_the_sheet_stays_small() -> None:
    assert RULES.count("{") == RULES.count("}")
    assert len(CSS.encode()) < 30_000


def test_what_every_page_loads_leaves_room_for_the_page() -> None:
    """An office page may weigh 60 KB packed, fonts aside; half of that stays for its own HTML."""
    loaded = [CSS.encode(), all_drawings().encode(), joined_text("js/office.js").encode()]
    assert sum(len(gzip.compress(some)) for some in loaded) < 34_000


def test_the_sheet_fetches_nothing_but_the_fonts_of_the_installed_package() -> None:
    addresses = re.findall(r"url\(\"?([^)\"]+)\"?\)", RULES)
    assert addresses
    assert {address.removeprefix("../") for address in addresses} <= set(PACKAGE_FILES)
    assert "@import" not in RULES


def test_the_vocabulary_names_only_classes_that_exist() -> None:
    classes = set(re.findall(r"\.([a-zA-Z][\w-]*)", RULES)) | {"messages"}
    snippets = re.findall(r'class="([^"{}]+)"', VOCABULARY)
    named = {word for snippet in snippets for word in snippet.split() if "…" not in word}
    assert named
    assert named - classes == set()


# Contrast


def tokens(selector: str) -> dict[str, str]:
    """Give the hex colours set in the first block of a selector."""
    block = re.search(rf"^{re.escape(selector)} \{{(.*?)\}}", RULES, re.MULTILINE | re.DOTALL)
    assert block is not None
    return dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6})", block[1]))


def luminance(colour: str) -> float:
    """Relative luminance of sRGB. Source: WCAG 2.2, definition of relative luminance."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21. Source: WCAG 2.2, definition of contrast ratio."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


# Ink, ground, least ratio. Source: WCAG 2.2: 7 for what the bench shows (1.4.6), 4.5 for other
# text (1.4.3), 3 for edges (1.4.11).
GROUNDS = ("paper", "sheet", "wash", "frond-wash", "trouble-wash")
PAIRS = [
    *[("ink", ground, 7.0) for ground in GROUNDS],
    *[("ink-soft", ground, 7.0) for ground in GROUNDS],
    *[("frond", ground, 7.0) for ground in GROUNDS],
    *[("frond-deep", ground, 7.0) for ground in GROUNDS],
    ("on-frond", "frond", 7.0),
    ("on-frond", "frond-deep", 7.0),
    ("paper", "ink", 7.0),
    *[
        ("black", state, 4.5)
        for state in ("orange", "sky", "green", "yellow", "vermillion", "purple")
    ],
    *[("edge", ground, 3.0) for ground in ("paper", "sheet", "wash")],
    *[("focus", ground, 3.0) for ground in GROUNDS],
    ("vermillion", "sheet", 3.0),
    ("yellow", "ink", 3.0),
]


def test_the_ratio_is_reckoned_as_published() -> None:
    """Black on white is 21:1 (WCAG 2.2); #767676 is the lightest grey with 4.5 (from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") > 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize(("ink", "ground", "least"), PAIRS)
@pytest.mark.parametrize("theme", ["office", "bench"])
def test_text_and_edges_stand_out(theme: str, ink: str, ground: str, least: float) -> None:
    colours = tokens(":root") | (tokens(".bench") if theme == "bench" else {})
    assert contrast(colours[ink], colours[ground]) >= least


def test_the_bench_puts_no_words_on_a_colour_of_a_state() -> None:
    """Black on vermillion or purple falls short of 7; at the bench they are chips beside words."""
    rules = re.sub(r"/\*.*?\*/", "", BENCH_CSS, flags=re.DOTALL)
    marked = re.findall(r"([^{}]+)\{[^}]*background: var\(--mark\)", rules)
    assert marked
    for selectors in marked:
        assert all(one.strip().endswith(".glyph") for one in selectors.split(",")), selectors
    assert not re.search(r"background: var\(--(?:vermillion|purple|orange|green|sky)\)", rules)


def test_states_wear_the_published_palette() -> None:
    """Okabe and Ito, Color Universal Design (2002, revised 2008): the RGB triples, from memory."""
    published = {
        "orange": (230, 159, 0),
        "sky": (86, 180, 233),
        "green": (0, 158, 115),
        "yellow": (240, 228, 66),
        "focus": (0, 114, 178),
        "vermillion": (213, 94, 0),
        "purple": (204, 121, 167),
    }
    ours = tokens(":root")
    for name, triple in published.items():
        assert tuple(int(ours[name][at : at + 2], 16) for at in (1, 3, 5)) == triple, name


def test_every_state_has_a_shape_on_the_bench_map_too() -> None:
    """Without colour, the shape in a cell's corner tells what is the matter."""
    corners = {}
    for state in ("late", "due", "isolated", "held", "unlabelled", "resting", "trouble"):
        found = re.search(rf'\.cell\[data-state="{state}"\]::after \{{([^}}]*)\}}', RULES)
        assert found is not None, state
        corners[state] = found[1]
    assert len(set(corners.values())) == len(corners)


# Sizes


@pytest.mark.parametrize(
    ("selector", "name", "least_px"),
    [
        (":root", "target", 44),
        (":root", "target-small", 44),
        (":root", "gap", 16),
        (".bench", "target", 96),
        (".bench", "target-small", 64),
        (".bench", "size", 18),
    ],
)
def test_targets_and_text_are_large_enough(selector: str, name: str, least_px: int) -> None:
    """44 px: WCAG 2.2, 2.5.5. 96, 64, 16 and 18 px: common practice, no source."""
    block = re.search(rf"^{re.escape(selector)} \{{(.*?)\}}", RULES, re.MULTILINE | re.DOTALL)
    assert block is not None
    value = re.search(rf"--{name}: ([\d.]+)rem", block[1])
    assert value is not None
    assert float(value[1]) * 16 >= least_px


# Templates: what the content security policy forbids


class Forbidden(HTMLParser):
    """Lists what would break under `script-src 'self'; style-src 'self'`, or needs eval."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self._script: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        for name, value in given.items():
            if name == "style" or name.startswith(("on", "hx-on", "data-hx-on")):
                self.found.append(f"{tag} {name}=")
            if re.match(r"\s*(js|javascript):", value):
                self.found.append(f"{tag} {name}={value[:20]}")
            if name in {"hx-trigger", "data-hx-trigger"} and "[" in value:
                self.found.append(f"{tag} {name} with a filter")
            if name == "hx-vars":
                self.found.append(f"{tag} hx-vars")
        if tag == "style":
            self.found.append("style element")
        if tag == "script":
            if not given.get("src") and given.get("type") != "application/json":
                self.found.append("script without src")
            self._script = given.get("type", "")

    handle_startendtag = handle_starttag

    def handle_endtag(self, tag: str) -> None:
        if tag == "script":
            self._script = None

    def handle_data(self, data: str) -> None:
        if self._script is not None and self._script != "application/json" and data.strip():
            self.found.append("script with a body")


def forbidden(text: str) -> list[str]:
    """Give what a page must not hold; template tags are taken out first."""
    text = re.sub(r"\{#.*?#\}", "", text, flags=re.DOTALL)
    text = re.sub(r"\{%\s*(?:end)?comment.*?%\}", "", text)
    text = re.sub(r"\{%.*?%\}|\{\{.*?\}\}", " x ", text, flags=re.DOTALL)
    parser = Forbidden()
    parser.feed(text)
    parser.close()
    return parser.found


@pytest.mark.parametrize(
    "bad",
    [
        '<p style="color:red">',
        "<p {% if a %}style='color:red'{% endif %}>",
        "<style>p{}</style>",
        "<script>alert(1)</script>",
        '<script type="module">let a</script>',
        '<script src="a.js">let a</script>',
        '<a onclick="x()">',
        '<div hx-on:click="x()">',
        '<div hx-on::after-request="x()">',
        "<div hx-vals='js:{a: 1}'>",
        '<a href="javascript:x()">',
        '<input hx-trigger="keyup[key==1]">',
    ],
)
def test_the_reader_of_templates_finds_what_is_forbidden(bad: str) -> None:
    assert forbidden(bad)


@pytest.mark.parametrize(
    "good",
    [
        "<script src=\"{% static 'js/office.js' %}\" defer></script>",
        '<a href="/on/" hx-get="/p/lines/" hx-trigger="change delay:200ms">style=</a>',
        "{# never style= or <script>x</script> #}",
    ],
)
def test_the_reader_of_templates_lets_the_rest_pass(good: str) -> None:
    assert forbidden(good) == []


def is_for_pdf(path: Path) -> bool:
    """A PDF is laid out by WeasyPrint, which knows no policy; such templates end in `_pdf.html`."""
    return path.name.endswith("_pdf.html")


@pytest.mark.parametrize(
    "path", TEMPLATES, ids=[str(path.relative_to(ROOT / "templates")) for path in TEMPLATES]
)
def test_templates_hold_nothing_that_the_policy_forbids(path: Path) -> None:
    found = forbidden(path.read_text(encoding="utf-8"))
    assert [thing for thing in found if not (is_for_pdf(path) and "style" in thing)] == []


@pytest.mark.parametrize(
    "path", TEMPLATES, ids=[str(path.relative_to(ROOT / "templates")) for path in TEMPLATES]
)
def test_a_table_that_may_scroll_is_reached_by_the_keyboard(path: Path) -> None:
    """Tables that turn into cards never scroll. Source: WCAG 2.2, 2.1.1."""
    for attributes, table in re.findall(
        r'<div class="table-wrap"([^>]*)>\s*<table class="([^"]*)"', path.read_text("utf-8")
    ):
        assert "cards" in table.split() or 'tabindex="0" role="region" aria-label="' in attributes


def test_htmx_is_set_up_without_eval_styles_or_history() -> None:
    base = (ROOT / "templates" / "_base.html").read_text(encoding="utf-8")
    found = re.search(r"<meta name=\"htmx-config\" content='([^']*)'>", base)
    assert found is not None
    config = json.loads(found[1])
    handling = config.pop("responseHandling")
    assert config == {
        "includeIndicatorStyles": False,
        "allowEval": False,
        "allowScriptTags": False,
        "selfRequestsOnly": True,
        "timeout": 10_000,
        "historyRestoreAsHxRequest": False,
        "historyCacheSize": 0,
    }
    # The first entry that matches the status decides (seen in htmx 2.0.10).
    codes = [entry["code"] for entry in handling]
    assert codes.index("422") < codes.index("[45]..")
    assert handling[codes.index("422")]["swap"] is True
    assert JOINED["js/office.js"][0] == "django_htmx/htmx-2.min.js"


@pytest.mark.parametrize("path", SCRIPTS, ids=[path.name for path in SCRIPTS])
def test_scripts_build_no_code_and_no_markup_from_text(path: Path) -> None:
    script = path.read_text(encoding="utf-8")
    for word in ("eval(", "new Function", "innerHTML", "outerHTML", "document.write", ".style"):
        assert word not in script, word
