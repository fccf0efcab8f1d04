"""Sheets come and go anywhere in the row of tabs; what counts tabs or lists them stays right."""

import re
from pathlib import Path

import pytest
from lxml import etree

from ledger_tools.book.parts.markup import EXTENDED, MAIN, VARIANTS
from ledger_tools.book.patch import patched_book
from ledger_tools.errors import NotWritableError
from ledger_tools.shop.plan import Operation, Plan, RemoveSheet
from tests import libreoffice
from tests.book.mixed import drawn, job_sheet, mixed_book
from tests.book.test_patch import _audit
from tests.parts import read_parts, write_parts

BOOK, APP = "xl/workbook.xml", "docProps/app.xml"
TABS = ("Jobs", "Own sheet", "Picture", "Last & least")
"""Tabs of the book below; the third is a chart sheet."""


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Return a workbook in which each tab has a name of its own, and names refer by index."""
    path = mixed_book(tmp_path / "shop.xlsx")
    own = "".join(
        f'<definedName name="mine" localSheetId="{n}">{n}</definedName>' for n in (0, 1, 3)
    )
    views = (
        '<customWorkbookViews><customWorkbookView name="a" guid="{00000000-0000-0000-0000-'
        '000000000001}" windowWidth="9" windowHeight="9" activeSheetId="2"/></customWorkbookViews>'
    )
    own += '<definedName name="secret" hidden="1">Jobs!$A$1</definedName>'
    _edit(path, BOOK, "</definedNames>", f"{own}</definedNames>")
    _edit(path, BOOK, "</workbook>", f"{views}</workbook>")
    return path


def _edit(path: Path, part: str, old: str, new: str) -> None:
    parts = read_parts(path)
    assert old.encode() in parts[part], old
    parts[part] = parts[part].replace(old.encode(), new.encode(), 1)
    write_parts(path, parts)


def _hide(path: Path, name: str) -> None:
    _edit(path, BOOK, f'<sheet name="{name}"', f'<sheet state="hidden" name="{name}"')


def _done(path: Path, *operations: Operation) -> Path:
    target = path.with_name("after.xlsx")
    plan = Plan(operations)
    target.write_bytes(patched_book(path.read_bytes(), path.name, plan, draw=drawn))
    return target


def _root(path: Path, part: str = BOOK) -> etree._Element:
    return etree.fromstring(read_parts(path)[part])


def _tabs(path: Path) -> list[str]:
    return [sheet.get("name", "") for sheet in _root(path).iter(f"{{{MAIN}}}sheet")]


def _mine(path: Path) -> dict[str, str]:
    """Return the names 'mine' by the sheet they belong to: each holds where it stood first."""
    tabs = _tabs(path)
    return {
        tabs[int(name.get("localSheetId", ""))]: TABS[int(name.text or "")]
        for name in _root(path).iter(f"{{{MAIN}}}definedName")
        if name.get("name") == "mine"
    }


def _view(path: Path, attribute: str) -> str:
    (view,) = _root(path).iter(f"{{{MAIN}}}workbookView")
    return _tabs(path)[int(view.get(attribute, "0"))]


@pytest.mark.parametrize("hidden", ["", "Jobs", "Last & least"])
@pytest.mark.parametrize("after", [*TABS, ""])
def test_a_new_tab_anywhere_leaves_the_others_what_they_had(
    book: Path, after: str, hidden: str
) -> None:
    """Names of sheets and the tab in view are the same, beside a chart sheet and hidden ones."""
    if hidden:
        _hide(book, hidden.replace("&", "&amp;"))
    _edit(book, BOOK, "<workbookView ", '<workbookView firstSheet="1" ')

    done = _done(book, job_sheet("25-0100", after=after))

    assert _tabs(done).index("25-0100") == (TABS.index(after) + 1 if after else 4)
    assert [tab for tab in _tabs(done) if tab != "25-0100"] == list(TABS)
    assert _mine(done) == {name: name for name in ("Jobs", "Own sheet", "Last & least")}
    assert _view(done, "activeTab") == _view(done, "firstSheet") == "Own sheet"


@pytest.mark.parametrize("gone", TABS)
def test_a_tab_taken_out_anywhere_leaves_the_others_what_they_had(book: Path, gone: str) -> None:
    """Its own names go with it; the view falls to the next tab where it was the one in view."""
    done = _done(book, RemoveSheet(gone))

    assert _tabs(done) == [tab for tab in TABS if tab != gone]
    kept = {name for name in ("Jobs", "Own sheet", "Last & least") if name != gone}
    assert _mine(done) == {name: name for name in kept}
    assert _view(done, "activeTab") == ("Picture" if gone == "Own sheet" else "Own sheet")
    ids = {sheet.get("sheetId") for sheet in _root(done).iter(f"{{{MAIN}}}sheet")}
    (custom,) = _root(done).iter(f"{{{MAIN}}}customWorkbookView")
    assert custom.get("activeSheetId") in ids


def test_a_hidden_tab_does_not_come_into_view(book: Path) -> None:
    """The next that can be seen does, or the last one where there is none further right."""
    _hide(book, "Picture")
    assert _view(_done(book, RemoveSheet("Own sheet")), "activeTab") == "Last & least"

    _hide(book, "Last &amp; least")
    assert _view(_done(book, RemoveSheet("Own sheet")), "activeTab") == "Jobs"


def test_at_the_right_end_the_last_tab_that_can_be_seen_comes_into_view(book: Path) -> None:
    """The hidden one further right does not."""
    _edit(book, BOOK, ' activeTab="1"', ' activeTab="2"')
    _hide(book, "Last &amp; least")

    assert _view(_done(book, RemoveSheet("Picture")), "activeTab") == "Own sheet"


def test_the_first_tab_taken_out_gives_its_view_to_one_that_can_be_seen(book: Path) -> None:
    """A file that names no tab in view means the first."""
    _edit(book, BOOK, ' activeTab="1"', "")
    _hide(book, "Own sheet")

    assert _view(_done(book, RemoveSheet("Jobs")), "activeTab") == "Picture"


def test_a_sheet_that_can_be_seen_stays(book: Path) -> None:
    """No program opens a workbook whose sheets are all hidden."""
    for name in ("Jobs", "Picture", "Last &amp; least"):
        _hide(book, name)

    with pytest.raises(NotWritableError, match="no sheet would be left that can be seen"):
        _done(book, RemoveSheet("Own sheet"))


def _listing(path: Path) -> dict[str, list[str]]:
    """Return the titles in the file's description by their headings, counts checked."""
    root = _root(path, APP)
    titles = root.find(f"{{{EXTENDED}}}TitlesOfParts/{{{VARIANTS}}}vector")
    headings = root.find(f"{{{EXTENDED}}}HeadingPairs/{{{VARIANTS}}}vector")
    assert titles is not None
    assert headings is not None
    assert int(titles.get("size", "0")) == len(titles)
    said = ["".join(map(str, heading.itertext())) for heading in headings]
    found, texts = {}, [title.text or "" for title in titles]
    for heading, count in zip(said[::2], said[1::2], strict=True):
        found[heading], texts = texts[: int(count)], texts[int(count) :]
    assert texts == []
    return found


def _unlisted(path: Path) -> None:
    """List the names that the fixture added too, as a program that saved the book would."""
    names = ("Jobs!mine", "'Own sheet'!mine", "'Last &amp; least'!mine")
    titles = "".join(f"<vt:lpstr>{name}</vt:lpstr>" for name in names)
    parts = read_parts(path)
    text = parts[APP].decode().replace("</vt:vector></TitlesOfParts>",
                                       f"{titles}</vt:vector></TitlesOfParts>")  # fmt: skip
    count = re.search(r"Named Ranges</vt:lpstr></vt:variant><vt:variant><vt:i4>(\d+)", text)
    size = re.search(r'<TitlesOfParts><vt:vector size="(\d+)"', text)
    assert count
    assert size
    text = text.replace(count[0], count[0].removesuffix(count[1]) + str(int(count[1]) + 3))
    text = text.replace(size[0], size[0].replace(size[1], str(int(size[1]) + 3)))
    parts[APP] = text.encode()
    write_parts(path, parts)


def test_new_sheets_and_their_names_are_listed(book: Path) -> None:
    """Print titles and print area of each new sheet come to the names, charts stay charts."""
    _unlisted(book)
    before = _listing(book)

    after = _listing(_done(book, job_sheet("25-0100"), job_sheet("O'Neil", after="")))

    assert after["Worksheets"] == ["Jobs", "25-0100", "Own sheet", "Last & least", "O'Neil"]
    assert after["Charts"] == before["Charts"] == ["Picture"]
    new = [title for title in after["Named Ranges"] if title not in before["Named Ranges"]]
    assert sorted(new) == [
        "'25-0100'!Print_Area", "'25-0100'!Print_Titles",
        "'O''Neil'!Print_Area", "'O''Neil'!Print_Titles",
    ]  # fmt: skip
    assert set(before["Named Ranges"]) < set(after["Named Ranges"])


def test_sheets_that_came_and_went_are_not_listed(book: Path) -> None:
    """The list is what it was, name by name."""
    _unlisted(book)
    before = _listing(book)
    there = _done(book, job_sheet("25-0100"), job_sheet("O'Neil", after=""))
    path = there.rename(there.with_name("there.xlsx"))

    assert _listing(_done(path, RemoveSheet("25-0100"), RemoveSheet("O'Neil"))) == before


def test_a_list_of_names_that_was_wrong_is_let_be(book: Path) -> None:
    """The fixture's own names are not listed: nobody keeps the list, so nothing is added."""
    before = _listing(book)["Named Ranges"]

    after = _listing(_done(book, job_sheet("25-0100")))

    assert after["Named Ranges"] == before
    assert "25-0100" in after["Worksheets"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("<vt:i4>3</vt:i4>", "<vt:i4>7</vt:i4>"),
        ("HeadingPairs", "OtherPairs"),
        ("TitlesOfParts", "OtherParts"),
    ],
)
def test_a_description_that_lists_no_sheets_keeps_its_bytes(
    book: Path, old: str, new: str
) -> None:
    """A wrong count, or no list at all."""
    parts = read_parts(book)
    assert old.encode() in parts[APP]
    parts[APP] = parts[APP].replace(old.encode(), new.encode())
    write_parts(book, parts)

    assert read_parts(_done(book, job_sheet("25-0100")))[APP] == parts[APP]


def test_other_books_are_referred_to_by_the_same_numbers(book: Path) -> None:
    """Formulas mean them by their place in the list, which sheets do not move."""
    listed = (
        '<externalReferences><externalReference r:id="rId91"/><externalReference r:id="rId90"/>'
        "</externalReferences>"
    )
    _edit(book, BOOK, "<definedNames>", f"{listed}<definedNames>")

    done = _done(book, job_sheet("25-0100"), RemoveSheet("Last & least"))

    found = [dict(e.attrib) for e in _root(done).iter(f"{{{MAIN}}}externalReference")]
    assert [*found[0].values(), *found[1].values()] == ["rId91", "rId90"]


def test_the_audit_finds_nothing_new(book: Path) -> None:
    """A checker of the file format has no more to say than before."""
    done = _done(book, job_sheet("25-0100", after="Picture"), RemoveSheet("Own sheet"))

    assert set(_audit(done)) <= set(_audit(book))


@pytest.mark.libreoffice
@pytest.mark.parametrize("gone", ["25-0100", "Own sheet"])
def test_libreoffice_opens_a_book_that_lost_a_sheet(book: Path, tmp_path: Path, gone: str) -> None:
    """Also one with a name by which macros know it; a new sheet has none and needs none."""
    parts = read_parts(book)
    own = next(n for n, c in parts.items() if b"A2*2+$A$2</f>" in c)
    head = re.search(rb"<worksheet[^>]*>", parts[own])
    assert head
    parts[own] = parts[own].replace(head[0], head[0] + b'<sheetPr codeName="Sheet2"/>')
    write_parts(book, parts)
    done = _done(book, job_sheet("25-0100"), RemoveSheet("Last & least"))
    path = done.rename(done.with_name("there.xlsx"))

    done = _done(path, RemoveSheet(gone))

    values = libreoffice.cell_values(libreoffice.resaved(done, tmp_path))
    assert set(values) == {"Jobs", "25-0100", "Own sheet", "Picture"} - {gone}
    assert values["Jobs"]["C9"] == 2
