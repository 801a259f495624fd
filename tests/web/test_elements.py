"""What the elements promise to every page that is composed of them."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time
from functools import partial
from types import SimpleNamespace

import pytest
from django.template import TemplateSyntaxError
from django.template.loader import get_template
from django.urls import reverse

from oneonone.templatetags.elements import register
from tests.web.gallery import render
from tests.web.gallery.forms import empty_form, refused_form
from tests.web.gallery.markup import Node, read
from tests.web.gallery.urls import NAMES

PAGES: dict[str, Callable[[], str]] = {
    "gallery": partial(render.page, theme="dark"),
    "signed out": partial(render.page, "signed_out.html"),
    **{fault: partial(render.page, f"{fault}.html") for fault in ("400", "403", "404", "500")},
}


@pytest.fixture(params=PAGES, scope="module")
def page(request: pytest.FixtureRequest) -> Node:
    return read(PAGES[request.param]())


@pytest.fixture(scope="module")
def gallery() -> Node:
    return read(PAGES["gallery"]())


def test_ids_are_unique_and_every_reference_leads_to_one(page: Node) -> None:
    ids = [node.attributes["id"] for node in page.all() if node.attributes.get("id")]
    assert len(ids) == len(set(ids))
    for node in page.all():
        for name in ("for", "aria-describedby", "aria-labelledby"):
            for target in node.attributes.get(name, "").split():
                assert target in ids, f"{name} of <{node.tag}> names {target}"


def test_nothing_is_inline_and_nothing_comes_from_elsewhere(page: Node) -> None:
    for node in page.all():
        assert node.tag != "style"
        assert "style" not in node.attributes
        assert not [name for name in node.attributes if name.startswith("on")]
        if node.tag == "script":
            assert not node.words()
        for name in ("src", "href") if node.tag in ("script", "link", "img") else ():
            assert node.attributes.get(name, "/static/").startswith("/static/")


def test_help_stands_in_the_same_place_on_every_page(page: Node) -> None:
    """WCAG 2.2, 3.2.6: the same order relative to the other content."""
    assert page.one("footer").all("a")[0].words() == "Who to turn to"


def test_every_page_has_one_heading_of_its_own_and_a_title(page: Node) -> None:
    assert len(page.all("h1")) == 1
    assert page.one("title").words()


def test_every_form_that_changes_something_carries_the_token(gallery: Node) -> None:
    forms = gallery.all("form", method="post")
    assert len(forms) > 5
    for form in forms:
        assert form.one("input", name="csrfmiddlewaretoken").attributes["value"]


def test_every_element_is_shown_in_the_gallery() -> None:
    source = (render.HERE / "gallery.html").read_text() + (render.TEMPLATES / "base.html").read_text()
    unseen = [
        name
        for name in register.tags
        if f"{{% {name} " not in source and name not in ("field", "fields", "styles", "scripts")
    ]
    assert unseen == []


@pytest.mark.parametrize("call", ["{% button 'Add' hreff='/x' %}", "{% notice knd='note' %}x{% endnotice %}"])
def test_a_mistyped_argument_is_refused(call: str) -> None:
    with pytest.raises((TypeError, TemplateSyntaxError)):
        render.fragment(call)


@pytest.mark.parametrize(
    ("call", "accepted"),
    [
        ("{% button 'Add' kind='primry' %}", "primary, secondary, quiet"),
        ("{% topic_box title='x' side='left' %}{% endtopic_box %}", "manager, report, both"),
        ("{% step 'x' state='half' %}", "done, now, to-come"),
        ("{% standing 'late' %}", "within, runs-out, over, never-met, paused"),
        ("{% moment day 'long' %}", "day, day_year"),
    ],
)
def test_a_word_without_a_meaning_is_refused_with_what_is_accepted(call: str, accepted: str) -> None:
    with pytest.raises(TemplateSyntaxError, match=accepted):
        render.fragment(call, day=date(2026, 12, 3))


@pytest.mark.parametrize(
    "call",
    [
        "{% button words about=words note=words %}",
        "{% post_button words action=words about=words key=words %}",
        "{% page_header title=words eyebrow=words lead=words %}{% endpage_header %}",
        "{% notice title=words %}{{ words }}{% endnotice %}",
        "{% private_paper tab=words note=words %}{{ words }}{% endprivate_paper %}",
        "{% topic_box title=words side='both' whose=words meta=words beside=words %}{% endtopic_box %}",
        "{% rail_margin tab=words %}{{ words }}{% endrail_margin %}",
        "{% stale_edit yours=words theirs=words name=words what=words %}{% endstale_edit %}",
        "{% mail_message subject=words to=words %}{{ words }}{% endmail_message %}",
        "{% definitions pairs=pairs %}{% enddefinitions %}",
        "{% person words %}{% step words note=words %}{% tab words href=words %}",
        "{% disclosure summary=words %}{{ words }}{% enddisclosure %}",
        "{% empty_state title=words action_label=words action_href='/' %}{{ words }}{% endempty_state %}",
        "{% confirm title=words action='/' confirm_label=words cancel_href='/' n=words %}x{% endconfirm %}",
    ],
)
def test_what_people_typed_is_never_markup(call: str) -> None:
    hostile = '"><script>alert(1)</script>'
    html = render.fragment(call, words=hostile, pairs=[(hostile, hostile)])
    assert "<script>" not in html
    assert "&lt;script&gt;" in html


class TestField:
    def test_label_help_and_fault_belong_to_the_control(self) -> None:
        field = read(render.fragment("{% field form.minutes unit='minutes' %}", form=refused_form()))
        control = field.one("input")
        assert control.attributes["aria-invalid"] == "true"
        described = control.attributes["aria-describedby"].split()
        assert [field.one(id=id).words() for id in described] == [
            "1 to 120",
            "To change: Ensure this value is less than or equal to 120.",
        ]
        assert field.one("label").attributes["for"] == control.attributes["id"]
        assert control.attributes["value"] == "500"

    def test_a_group_of_choices_is_a_fieldset_with_its_fault(self) -> None:
        field = read(render.fragment("{% field form.kind %}", form=refused_form()))
        group = field.one("fieldset")
        assert group.one("legend").words() == "Kind"
        assert "gossip" in group.one(id=group.attributes["aria-describedby"]).words()
        assert len(group.all("label")) == len(group.all("input", type="radio")) == 5

    def test_a_checkbox_stands_before_its_label(self) -> None:
        field = read(render.fragment("{% field form.must %}", form=empty_form()))
        label = field.one("label")
        assert label.one("input", type="checkbox").attributes["id"] == label.attributes["for"]
        assert label.words() == "Must be discussed"

    def test_what_may_stay_empty_says_so(self) -> None:
        assert "(may stay empty)" in render.fragment("{% field form.detail %}", form=empty_form())
        assert "(may stay empty)" not in render.fragment("{% field form.title %}", form=empty_form())

    def test_help_given_by_the_page_is_wired_like_help_of_the_form(self) -> None:
        field = read(
            render.fragment("{% field form.outcome help='What you want of it' %}", form=empty_form())
        )
        assert (
            field.one(id=field.one("select").attributes["aria-describedby"]).words() == "What you want of it"
        )

    def test_a_form_keeps_its_hidden_fields(self) -> None:
        fields = read(render.fragment("{% fields form %}", form=empty_form()))
        assert fields.one("input", type="hidden").attributes["name"] == "new-version"
        assert len(fields.all("div", class_="field")) == 9


class TestErrorSummary:
    def test_every_fault_is_named_and_leads_to_its_field(self) -> None:
        html = render.fragment("{% error_summary form %}{% fields form %}", form=refused_form())
        page = read(html)
        summary = page.one("section", class_="error-summary")
        assert summary.one("h2").words() == "Not saved yet: 5 things to change"
        assert summary.all("li")[0].words().startswith("A detail needs a topic to belong to")
        links = {link.words(): link.attributes["href"][1:] for link in summary.all("a")}
        assert list(links) == ["Topic", "Kind", "Minutes wanted", "Day"]
        for target in links.values():
            assert page.one(id=target).tag in ("input", "select", "textarea")

    def test_what_was_typed_is_still_there(self) -> None:
        html = render.fragment("{% fields form %}", form=refused_form())
        assert "The relief clerk could start at 05:40 on Tuesdays." in html
        assert 'value="500"' in html

    def test_it_takes_the_focus(self) -> None:
        summary = read(render.fragment("{% error_summary form %}", form=refused_form())).one("section")
        assert summary.attributes["tabindex"] == "-1"
        assert "data-focus-on-load" in summary.attributes

    def test_a_form_without_faults_has_none(self) -> None:
        assert render.fragment("{% error_summary form %}", form=empty_form()).strip() == ""


class TestRail:
    @pytest.mark.parametrize(
        ("minutes", "name"), [(1, "m-1"), (13, "m-13"), (240, "m-240"), (300, "m-240"), (0, "m-1")]
    )
    def test_a_slot_is_as_tall_as_its_minutes(self, minutes: int, name: str) -> None:
        slot = read(
            render.fragment(
                "{% rail_slot starts_at=at minutes=n %}{% endrail_slot %}", at=time(10), n=minutes
            )
        )
        assert name in slot.one("li").attributes["class"].split()

    @pytest.mark.parametrize(("over", "name"), [(0, "at-0"), (8, "at-8"), (20, "at-13"), (-3, "at-0")])
    def test_now_never_leaves_its_slot(self, over: int, name: str) -> None:
        call = "{% rail_slot starts_at=at minutes=13 now_at=over %}{% endrail_slot %}"
        now = read(render.fragment(call, at=time(10), over=over)).one("span", class_="rail-now")
        assert name in now.attributes["class"].split()

    def test_a_slot_says_when_it_starts_in_the_zone_of_the_line(self) -> None:
        call = "{% rail_slot starts_at=at minutes=5 zone='Europe/Berlin' %}{% endrail_slot %}"
        slot = read(render.fragment(call, at=datetime(2026, 12, 3, 9, 10, tzinfo=UTC)))
        assert slot.one("time").words() == "10:10"

    def test_a_box_says_its_minutes_and_whose_it_is_in_words(self) -> None:
        call = (
            "{% topic_box title='Log' side='manager' minutes=3 whose='Ines brings this' %}{% endtopic_box %}"
        )
        assert read(render.fragment(call)).words() == "Log 3 min Ines brings this"

    def test_time_held_free_says_so(self) -> None:
        call = "{% topic_box title='Read back' side='both' minutes=4 held_free=True %}{% endtopic_box %}"
        assert "4 min, held free" in render.fragment(call)

    def test_time_that_nobody_has_asked_for_is_free_and_held_for_nothing(self) -> None:
        call = "{% topic_box title='Not spoken for' side='both' minutes=4 free=True %}{% endtopic_box %}"
        assert "4 min, free" in render.fragment(call)
        assert "topic-held-free" in render.fragment(call)

    def test_each_note_of_the_margin_says_from_whom_it_is_hidden(self) -> None:
        margin = render.fragment("{% rail_margin tab='not shown to Ines' %}A note{% endrail_margin %}")
        assert read(margin).words() == "not shown to Ines A note"
        assert (
            read(render.fragment("{% rail_margin tab='not shown to Ines' %} {% endrail_margin %}")).words()
            == ""
        )


class TestHeader:
    def test_the_place_the_reader_is_at_is_marked(self, gallery: Node) -> None:
        places = gallery.one("nav", aria_label="Places")
        assert [link.words() for link in places.all("a", aria_current="page")] == ["One-on-ones"]

    def test_a_page_below_a_place_marks_that_place(self) -> None:
        call = "{% nav_link 'cadence' 'Cadence' %}{% nav_link 'lines' 'One-on-ones' %}"
        links = read(render.fragment(call, section="lines"))
        assert links.one("a", aria_current="true").words() == "One-on-ones"

    def test_people_and_lines_is_a_place_of_administrators(self) -> None:
        words = (
            read(render.page(user=SimpleNamespace(is_administrator=False)))
            .one("nav", aria_label="Places")
            .words()
        )
        assert words == "Next One-on-ones Commitments Logbook Cadence Settings"

    def test_the_clock_is_moved_on_only_in_a_demonstration(self, gallery: Node) -> None:
        bar = gallery.one("section", class_="demo-bar")
        assert bar.one("time").words() == "Monday 30 November 2026, 12:00"
        assert [option.attributes["value"] for option in bar.one("select", name="step").all("option")] == [
            "minutes",
            "meeting",
            "event",
            "day",
            "week",
        ]
        assert read(render.page(demo=None)).all(class_="demo-bar") == []

    @pytest.mark.parametrize(
        ("theme", "expected"), [("dark", "dark"), ("light", "light"), ("", None), ("x", None)]
    )
    def test_a_chosen_theme_is_on_the_document(self, theme: str, expected: str | None) -> None:
        assert read(render.page(theme=theme)).one("html").attributes.get("data-theme") == expected


def test_the_product_has_every_address_that_the_frame_links_to() -> None:
    of_the_demo = {"demo-move-on", "demo-mail"}
    for name in set(NAMES) - of_the_demo:
        assert reverse(name)


class TestFaultPages:
    @pytest.mark.parametrize("fault", ["400", "403", "404", "500"])
    def test_the_bytes_are_the_same_whoever_asks_for_whatever(self, fault: str) -> None:
        asked = render.page(
            f"{fault}.html", request_path="/lines/7/", exception="Line 7", user="Ines", demo=True
        )
        with render.addresses():
            assert render.engine().get_template(f"{fault}.html").render() == asked

    @pytest.mark.parametrize("fault", ["400", "403", "404", "500"])
    def test_they_render_where_nothing_else_is_known(self, fault: str) -> None:
        assert "<h1>" in get_template(f"{fault}.html").render()


class TestMoment:
    AT = datetime(2026, 12, 3, 9, 0, tzinfo=UTC)

    @pytest.mark.parametrize(
        ("form", "words"),
        [
            ("moment", "Thursday 3 December, 10:00"),
            ("moment_year", "Thursday 3 December 2026, 10:00"),
            ("day", "Thursday 3 December"),
            ("short", "3 Dec"),
            ("short_year", "3 Dec 2026"),
            ("clock", "10:00"),
        ],
    )
    def test_a_moment_is_said_in_the_zone_it_was_agreed_in(self, form: str, words: str) -> None:
        html = render.fragment("{% moment at form zone='Europe/Berlin' %}", at=self.AT, form=form)
        assert read(html).one("time").words() == words
        assert 'datetime="2026-12-03T10:00+01:00"' in html

    def test_days_and_clock_times_have_no_zone(self) -> None:
        assert read(render.fragment("{% moment d %}", d=date(2026, 12, 3))).words() == "Thursday 3 December"
        assert read(render.fragment("{% moment t %}", t=time(9, 5))).words() == "09:05"

    def test_a_moment_that_knows_no_zone_is_refused(self) -> None:
        with pytest.raises(TemplateSyntaxError, match="zone"):
            render.fragment("{% moment at %}", at=datetime(2026, 12, 3, 9, 0))  # noqa: DTZ001

    def test_no_moment_is_nothing(self) -> None:
        assert render.fragment("{% moment at %}", at=None) == ""


@pytest.mark.parametrize(
    ("kind", "days", "words"),
    [
        ("within", 0, "within"),
        ("runs-out", 0, "runs out today"),
        ("runs-out", 1, "runs out in 1 day"),
        ("runs-out", 7, "runs out in 7 days"),
        ("over", 1, "1 day overdue"),
        ("over", 70, "70 days overdue"),
        ("never-met", 0, "never met"),
        ("paused", 0, "paused"),
    ],
)
def test_a_standing_is_told_in_words(kind: str, days: int, words: str) -> None:
    assert read(render.fragment("{% standing kind days=days %}", kind=kind, days=days)).words() == words


def test_a_page_of_a_list_keeps_the_rest_of_the_query(gallery: Node) -> None:
    links = gallery.one("nav", class_="pagination").all("a")
    assert [link.attributes["href"] for link in links] == ["?kind=idea&page=1", "?kind=idea&page=3"]


def test_further_arguments_of_a_post_button_are_hidden_fields() -> None:
    form = read(render.fragment("{% post_button 'Withdraw' action='/t' about='Drill log' version=4 %}"))
    assert form.one("input", type="hidden", name="version").attributes["value"] == "4"
    assert form.one("button").words() == "Withdraw : Drill log"


def test_both_texts_of_a_stale_edit_are_shown_as_typed() -> None:
    call = "{% stale_edit yours='a  b' theirs='c' name='Ines' %}save{% endstale_edit %}"
    edit = read(render.fragment(call))
    assert [text.children[0].text for text in edit.all("div", class_="stale-words")] == ["a  b", "c"]
