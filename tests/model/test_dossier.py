"""The dossier holds every section, no number without meaning, nothing from outside, and no name that takes effect."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from catalog_schema.case import Case
from catalog_schema.machines import Candidate
from model.decision import decide
from model.dossier import VERSION, dossier_html
from model.dossier_blocks import Part, Picture, Table, Words
from model.dossier_exposure import exposure_section
from model.dossier_job import job_section
from model.dossier_svg import safe_svg
from model.dossier_text import span
from model.evaluate import Evaluation, evaluate

TODAY = "2026-03-20"
SECTIONS = ["answer", "job", "demands", "verdicts", "ruled-out", "shortlist", "exposure", "certainty", "cost",
            "questions", "cautions", "made", "assumptions", "sources"]  # fmt: skip
HOSTILE = [
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7*7 }}{% raw %}", "=HYPERLINK(1)",
    "safe\u202egnp.exe", "</style><style>*{display:none}", "</svg><script>alert(2)</script>", "${7*7} javascript:x",
]  # fmt: skip

SmallCase = Callable[..., Case]


class Page(HTMLParser):
    """Collects what a browser would see."""

    VOID = frozenset(["meta", "br", "img", "col", "link", "hr", "input", "path", "line", "rect", "circle"])

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.ids: list[str] = []
        self.texts: list[str] = []
        self.styles: list[str] = []
        self._open: list[str] = []
        self.feed(html)
        self.close()
        self.text = "\n".join(self.texts)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        self.ids += [value or "" for name, value in attrs if name == "id"]
        if tag not in self.VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in self._open:
            while self._open.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        (self.styles if "style" in self._open else self.texts).append(data)


def written(evaluation: Evaluation, system: str = "metric") -> str:
    return dossier_html(evaluation, decision=decide(evaluation), system=system, today=TODAY)


@pytest.fixture(scope="module")
def demo_html(demo_evaluation: Evaluation) -> str:
    return written(demo_evaluation)


@pytest.fixture(scope="module")
def demo_page(demo_html: str) -> Page:
    return Page(demo_html)


@pytest.fixture(scope="module")
def demo_US_page(demo_evaluation: Evaluation) -> Page:
    return Page(written(demo_evaluation, "US"))


@pytest.fixture(scope="module")
def hostile_html(hostile_evaluation: Evaluation) -> str:
    return written(hostile_evaluation)


@pytest.fixture(scope="module")
def hostile_evaluation(demo_case: Case, small_case: SmallCase) -> Evaluation:
    small = small_case(demo_case, ("offer-a-batch-spray", "offer-d-vacuum-solvent", "contract-service"),
                       ("dense-controller", "control-board"))  # fmt: skip
    names = iter(HOSTILE)
    candidates = tuple(
        Candidate.model_validate(one.model_dump() | {"name": next(names), "supplier": next(names), "note": HOSTILE[0]})
        for one in small.candidates
    )
    boards = tuple(one.model_copy(update={"name": next(names), "note": HOSTILE[1]}) for one in small.board_types)
    voices = tuple(one.model_copy(update={"name": HOSTILE[6]}) for one in small.priorities.stakeholders)
    plant = small.plant.model_copy(update={"name": HOSTILE[5], "note": HOSTILE[2]})
    return evaluate(
        small.model_copy(update={
            "name": HOSTILE[6], "note": HOSTILE[7], "candidates": candidates, "board_types": boards, "plant": plant,
            "priorities": small.priorities.model_copy(update={"stakeholders": voices}),
        }),
        draws=64, rays=8192,
    )  # fmt: skip


def test_every_section_is_there_and_listed_in_the_contents(demo_page: Page) -> None:
    assert [one for one in demo_page.ids if one in SECTIONS] == SECTIONS
    targets = [value for tag, name, value in demo_page.attributes if tag == "a" and name == "href"]
    assert targets == [f"#{one}" for one in SECTIONS[1:]]


def test_ids_are_unique_over_all_pictures(demo_page: Page) -> None:
    assert len(demo_page.ids) == len(set(demo_page.ids))
    assert demo_page.tags.count("svg") >= 3


def test_it_names_version_date_case_draws_seed_and_that_the_data_are_invented(
    demo_page: Page, demo_evaluation: Evaluation
) -> None:
    for said in (TODAY, f"Washcase {VERSION}", demo_evaluation.fingerprint, f"{demo_evaluation.draws} draws",
                 f"seed {demo_evaluation.seed}", "Invented data", "Advice, not approval"):  # fmt: skip
        assert said in demo_page.text


def test_every_machine_ruled_out_stands_with_the_sentence_that_decides(
    demo_page: Page, demo_evaluation: Evaluation
) -> None:
    out = [one for one in demo_evaluation.machines if one.result == "falls short"]
    assert out
    for outcome in out:
        assert outcome.deciding is not None
        assert outcome.machine.name in demo_page.text
        sentence = outcome.deciding.requirement.sentence.text("metric", demo_evaluation.case.plant.currency)
        assert sentence.split("∞")[0] in demo_page.text


def test_every_assumption_is_printed_with_its_basis(demo_html: str, demo_evaluation: Evaluation) -> None:
    annex = demo_html[demo_html.index('id="assumptions"') :]
    assert annex.count("<dt>") >= len(demo_evaluation.inputs)
    for basis in {record.basis for record in demo_evaluation.inputs}:
        assert basis in annex.lower()
    assert "Not stated, range of the class" in annex
    assert "Stated in the offer" in annex


def test_no_number_without_meaning_is_printed(
    demo_page: Page, demo_US_page: Page, through_hole_evaluation: Evaluation
) -> None:
    for page in (demo_page, demo_US_page, Page(written(through_hole_evaluation))):
        text = page.text
        assert re.findall(r"\b(?:nan|NaN|inf|None|Infinity|undefined|nan%)\b|∞", text) == []
        assert re.findall(r"(?<![0-9a-f]{2})\d[eE][+-]?\d\d", text) == []
        assert "{" not in text
        assert "<" not in text


def test_the_streams_are_drawn_for_the_leader_and_for_those_that_the_wash_rules_out(
    demo_evaluation: Evaluation,
) -> None:
    section = exposure_section(demo_evaluation, decide(demo_evaluation), "metric")
    parts = [one for one in section.blocks if isinstance(one, Part)]
    assert [part.title.rpartition(": ")[2] for part in parts] == ["it comes first"] + ["its wash falls short"] * 3
    assert [part.title.rpartition(": ")[0] for part in parts][:2] == [
        "Offer A: batch spray washer", "Offer B: inline spray washer"]  # fmt: skip
    for part in parts:
        picture = part.blocks[0]
        assert isinstance(picture, Picture)
        assert "a stream acts" in picture.caption
        # Two faces of eight by eight cells, each with its number.
        assert len(re.findall(r">\d+(?:\.\d)?</text>", picture.svg)) >= 128
        assert len(picture.svg) < 45_000


def test_a_case_without_sprays_says_that_there_is_no_stream(demo_case: Case, small_case: SmallCase) -> None:
    case = small_case(demo_case, ("offer-d-vacuum-solvent", "contract-service"), ("dense-controller",))
    found = evaluate(case, draws=64, rays=8192)
    section = exposure_section(found, decide(found), "metric")
    assert isinstance(section.blocks[0], Words)
    assert "no stream to draw" in section.blocks[0].text


def test_few_boards_a_year_are_whole_boards(demo_case: Case, small_case: SmallCase) -> None:
    case = small_case(demo_case, ("contract-service",), ("dense-controller",), board={"volume": "34.6 1/year"})
    section = job_section(evaluate(case, draws=4, rays=2048), "metric")
    mix = next(block for block in section.blocks if isinstance(block, Part) and block.title == "The board mix")
    assert isinstance(mix.blocks[0], Words)
    assert mix.blocks[0].text == "1 board type, together 35 boards a year."


def test_nothing_is_loaded_from_outside_and_no_script_runs(demo_html: str, demo_page: Page) -> None:
    loading = {"script", "iframe", "object", "embed", "link", "img", "base", "form", "image", "use"}
    assert not loading & set(demo_page.tags)
    assert "://" not in demo_html
    assert "url(" not in re.sub(r"url\(#[\w-]+\)", "", demo_html)
    assert "@import" not in demo_html
    policies = [value for tag, name, value in demo_page.attributes if name == "content" and "default-src" in value]
    assert policies == ["default-src 'none'; style-src 'unsafe-inline'; form-action 'none'; base-uri 'none'"]


def test_hostile_names_are_shown_and_take_no_effect(hostile_html: str, demo_page: Page) -> None:
    page = Page(hostile_html)
    assert set(page.tags) <= set(demo_page.tags)
    assert "script" not in page.tags
    assert "img" not in page.tags
    assert page.tags.count("style") == 1
    assert [name for _, name, _ in page.attributes if name.startswith("on")] == []
    assert [value for _, name, value in page.attributes if name in ("href", "src") and not value.startswith("#")] == []
    for name in HOSTILE[:5]:
        assert name.replace("\u202e", "⟨U+202E⟩") in page.text
    assert "{{ 7*7 }}" in page.text
    assert "49" not in re.findall(r"[\w.]+", page.text.split("The answer in short")[0])


def test_no_character_that_hides_or_reorders_text_reaches_the_page(hostile_html: str) -> None:
    assert re.findall("[\u200b-\u200f\u202a-\u202e\u2066-\u2069\ufeff]", hostile_html) == []


def test_US_units_are_used_throughout(demo_US_page: Page) -> None:
    text = demo_US_page.text
    assert " psi" in text
    assert "°F" in text
    body = text[: text.index("All assumptions\n")]
    # Offers are quoted as their supplier wrote them in the annex; everything before it is in the reader's units.
    assert re.findall(r"\d (?:bar|°C|L/min|µm|kPa)\b", body.replace("µg", "")) == []


def test_each_end_of_a_range_of_times_carries_its_unit_where_units_differ() -> None:
    assert span(12 * 60.0, 36 * 3600.0, 5 * 86400.0, "time", "metric") == "36 h (12 min to 5 d)"
    assert span(60.0, 120.0, float("inf"), "time", "US") == "2 min (60 s to no end)"
    assert span(0.1, 0.2, 0.3, "share", "metric") == "20\N{NO-BREAK SPACE}% (10 to 30)"
    assert span(1.0, 2.0, 12345.0, "number", "metric") == "2 (1 to 12 345)"


def test_money_is_written_in_the_plants_currency(demo_page: Page) -> None:
    start = demo_page.text.index("Amounts in EUR")
    assert "€" in demo_page.text[start : start + 3000]


def test_without_a_decision_the_document_says_what_is_not_computed(demo_evaluation: Evaluation) -> None:
    page = Page(dossier_html(demo_evaluation, today=TODAY))
    assert [one for one in page.ids if one in SECTIONS] == SECTIONS
    assert page.text.count("not computed for this document") >= 3


def test_a_case_without_boards_or_machines_still_gives_a_sensible_document(demo_case: Case) -> None:
    empty = demo_case.model_copy(update={"board_types": (), "candidates": (), "compare_classes": ()})
    evaluation = evaluate(empty, draws=8)
    page = Page(written(evaluation))
    assert "no board types" in page.text
    assert "no offers" in page.text
    assert "no machine has a cost" in page.text


def test_the_same_input_gives_the_same_document(hostile_evaluation: Evaluation, hostile_html: str) -> None:
    assert written(hostile_evaluation) == hostile_html


def test_an_unknown_unit_system_is_refused_in_a_sentence(hostile_evaluation: Evaluation) -> None:
    with pytest.raises(ValueError, match="Give metric or US"):
        dossier_html(hostile_evaluation, system="imperial", today=TODAY)


def test_the_printed_version_is_that_of_the_package() -> None:
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["version"] == VERSION


def test_the_template_travels_with_the_package() -> None:
    project = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    assert "*.j2" in project["tool"]["setuptools"]["package-data"]["model"]


def test_a_picture_keeps_shapes_and_text_only() -> None:
    svg = ('<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" onload="x()">'
           '<style>*{}</style><a xlink:href="http://example.invalid"><text>gone</text></a>'
           '<rect id="r" clip-path="url(#c)" fill="url(http://example.invalid)" style="x"/>'
           '<foreignObject><p>gone</p></foreignObject><text onclick="x()">a &lt;b&gt;</text></svg>')  # fmt: skip
    cleaned = str(safe_svg(svg, "p1"))
    assert cleaned == ('<svg><rect id="p1-r" clip-path="url(#p1-c)" /><text>a &lt;b&gt;</text></svg>')


def test_a_row_that_does_not_fill_the_head_is_refused() -> None:
    with pytest.raises(ValueError, match="does not have 2 cells"):
        Table(columns=("a", "b"), rows=(("1",),))
