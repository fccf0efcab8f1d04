"""`archive` names whatever refers to a sheet that would go, and then moves nothing."""

import io
import re
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from ledger_tools.book.layout import PAYMENTS_TABLE
from ledger_tools.book.patch import patched_book
from ledger_tools.shop.plan import AddSheet, Plan, SheetKind
from tests.book.shop import Shop
from tests.commands.conftest import Lt, files_in
from tests.parts import png, read_parts, write_parts

DAY = ("--today", "2025-03-03")
GOES, STAYS = "25-0001", "25-0002"
TABLE = "Job_25_0001"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
SPREADSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml"
EXCEL_2010 = "http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"
EXCEL_MAIN = "http://schemas.microsoft.com/office/excel/2006/main"

Put = Callable[[Any, Any, str], object]
"""Puts something that speaks of a job on a sheet of XlsxWriter's, which has no types."""
Inject = Callable[[dict[str, bytes]], object]
"""Puts something into the parts of a workbook, as XlsxWriter cannot."""


@pytest.fixture(scope="module")
def paid_book(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return a book with a paid job and an open one."""
    shop = Shop.new(tmp_path_factory.mktemp("paid"))
    shop.add(item="Pan", repair="OIL-PAN", state="to invoice")
    shop.add(item="Other pan", repair="OIL-PAN")
    shop.invoice()
    owing = shop.check().results[GOES].balance
    shop.fill(PAYMENTS_TABLE, 1, day=shop.today, invoice="25-0001", amount=owing)
    shop.recompute()
    return shop.path.read_bytes()


@pytest.fixture
def shop(tmp_path: Path, paid_book: bytes) -> Path:
    """Return that book in the working folder."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(paid_book)
    return path


def _own_sheet(path: Path, put: Put, job: str = GOES) -> None:
    """Give the book a sheet of the owner's with something on it."""

    def draw(_: Sequence[AddSheet]) -> bytes:
        target = io.BytesIO()
        with warnings.catch_warnings(), xlsxwriter.Workbook(target) as workbook:
            # It warns that a chart means a sheet which this workbook does not have.
            warnings.simplefilter("ignore", UserWarning)
            sheet = workbook.add_worksheet("Mine")
            sheet.write("A1", 1)
            put(workbook, sheet, job)
        return target.getvalue()

    plan = Plan((AddSheet("Mine", SheetKind.INVOICES, {}, rows=1, table="Mine"),))
    path.write_bytes(patched_book(path.read_bytes(), path.name, plan, draw=draw))


def _chart(workbook: Any, sheet: Any, *, title: str = "", **series: str) -> None:  # noqa: ANN401 - untyped
    chart = workbook.add_chart({"type": "line"})
    chart.add_series({"values": "=Mine!$A$1:$A$3", **series})
    if title:
        chart.set_title({"name": title})
    sheet.insert_chart("D5", chart)


def _formula(text: str) -> Put:
    return lambda _, s, job: s.write_formula(
        "B3", text.format(job=job, table=f"Job_{job.replace('-', '_')}")
    )


def _mark(**rule: Any) -> Put:  # noqa: ANN401 - untyped
    def put(_: Any, sheet: Any, job: str) -> None:  # noqa: ANN401 - untyped
        said = {k: v.format(job=job) if isinstance(v, str) else v for k, v in rule.items()}
        sheet.conditional_format("B3:B9", said)

    return put


CELL, LINK, CHART = "The formula here", "The link here", "A chart"
MARK, CHOICE = "A mark (conditional format)", "A choice (data validation)"
HELD: dict[str, tuple[Put, str, str]] = {
    "formula": (_formula("='{job}'!$G$9*2"), "B3", CELL),
    "array": (
        lambda _, s, job: s.write_array_formula("B3:B4", f"{{='{job}'!G8:G9}}"), "B3", CELL,
    ),
    "table": (_formula("=SUM({table}[Amount])"), "B3", CELL),
    "run": (_formula("=SUM('Jobs:{job}'!B2)"), "B3", CELL),
    "run, other way": (_formula("=SUM('{job}:Jobs'!B2)"), "B3", CELL),
    "indirect": (_formula("""=INDIRECT("'{job}'!G9")"""), "B3", CELL),
    "indirect, table": (_formula('=SUM(INDIRECT("{table}[Amount]"))'), "B3", CELL),
    "go to": (_formula("""=HYPERLINK("#'{job}'!A1")"""), "B3", CELL),
    "link": (lambda _, s, job: s.write_url("B3", f"internal:'{job}'!A1", None, "go"), "B3", LINK),
    "chart": (lambda w, s, job: _chart(w, s, values=f"='{job}'!$M$12:$M$20"), "D5", CHART),
    "name of a series": (lambda w, s, job: _chart(w, s, name=f"='{job}'!$A$1"), "D5", CHART),
    "title of a chart": (lambda w, s, job: _chart(w, s, title=f"='{job}'!$A$1"), "D5", CHART),
    "sparkline": (
        lambda _, s, job: s.add_sparkline("B3", {"range": f"'{job}'!M12:M20"}), "B3",
        "A sparkline",
    ),
    "mark": (_mark(type="formula", criteria="=B3>'{job}'!$G$9"), "B3", MARK),
    "mark of 2010": (
        _mark(type="data_bar", data_bar_2010=True, min_type="formula", min_value="='{job}'!$G$9"),
        "B3", MARK,
    ),
    "choice": (
        lambda _, s, job: s.data_validation(
            "B3:B9", {"validate": "list", "source": f"='{job}'!$C$12:$C$20"}
        ), "B3", CHOICE,
    ),
    "shape": (
        lambda _, s, job: s.insert_textbox("D5", "", {"textlink": f"='{job}'!$G$9"}), "D5",
        "A shape",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("put", "cell", "what"), HELD.values(), ids=list(HELD))
def test_what_refers_to_a_sheet_that_would_go_is_named(
    lt: Lt, shop: Path, put: Put, cell: str, what: str
) -> None:
    """Exit code 1, sheet and cell and what it is; not a byte is written anywhere."""
    _own_sheet(shop, put)

    _is_named(lt, shop, f", sheet 'Mine', cell {cell}: {what}")


def _is_named(lt: Lt, shop: Path, where: str) -> None:
    before = files_in(shop.parent)

    ran = lt("archive", shop.name, *DAY)

    assert f"shop.xlsx{where} refers to the sheet '{GOES}'" in ran.err
    assert ran.err.count("refers to the sheet") == 1, ran.err
    assert (ran.code, ran.out) == (1, "No job was moved.\n")
    assert files_in(shop.parent) == before


def test_what_refers_to_a_sheet_that_stays_is_let_be(lt: Lt, shop: Path) -> None:
    """All of it together, meaning the sheet of the other job: the paid job is moved."""

    def put(workbook: object, sheet: object, job: str) -> None:
        for held, _, _ in HELD.values():
            held(workbook, sheet, job)

    _own_sheet(shop, put, job=STAYS)

    ran = lt("archive", shop.name, *DAY)

    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Moved 1 job")


@pytest.mark.parametrize("held", [name for name in HELD if name != "array"])
def test_anyway_nothing_in_the_book_means_the_sheet(lt: Lt, shop: Path, held: str) -> None:
    """The sheet goes with a warning; what shows a value keeps it, the rest means nothing."""
    put, cell, what = HELD[held]
    _own_sheet(shop, put)

    ran = lt("archive", shop.name, "--anyway", *DAY)

    assert ran.code == 0, ran.err
    assert f"cell {cell}: {what} refers to the sheet '{GOES}'" in ran.err
    assert ran.out.startswith("Moved 1 job")
    assert [n for n, c in read_parts(shop).items() if b"'25-0001'!" in c or b"_0001[" in c] == []
    assert lt("recompute", shop.name, *DAY).code == 0


def test_a_link_goes_and_the_formula_beneath_it_stays(lt: Lt, shop: Path) -> None:
    """Only what means the sheet is taken from a cell."""

    def put(_: object, sheet: Any, job: str) -> None:  # noqa: ANN401 - untyped
        sheet.write_url("B3", f"internal:'{job}'!A1", None, "go")
        sheet.write_formula("B3", "=1+1", None, 2)
        sheet.write_url("B4", "internal:Jobs!A1", None, "go")
        sheet.write_formula("B4", f"='{job}'!$G$9", None, 3)

    _own_sheet(shop, put)

    assert lt("archive", shop.name, "--anyway", *DAY).code == 0

    mine = Shop(shop).sheet("Mine")
    assert mine.formulas == {(3, 2): "1+1"}
    assert mine.links == {(4, 2): "Jobs!A1"}
    assert mine.values[4, 2] == 3


def test_an_array_formula_is_not_taken_apart(lt: Lt, shop: Path) -> None:
    """Not even with --anyway; the owner is told what to do about it."""
    _own_sheet(shop, HELD["array"][0])
    before = files_in(shop.parent)

    ran = lt("archive", shop.name, "--anyway", *DAY)

    assert ran.code == 1
    assert "sheet 'Mine', cell B3: the cell is part of the array formula in B3:B4" in ran.err
    assert files_in(shop.parent) == before


def _added(kinds: tuple[str, str], part: str, content: str, owner: str = "") -> Inject:
    """Put another part, of these kinds of relationship and content, where `owner` has it."""

    def inject(parts: dict[str, bytes]) -> None:
        kind, content_type = kinds
        source = owner or _mine(parts)
        folder, _, name = source.rpartition("/")
        rels = f"{folder}/_rels/{name}.rels"
        space = "http://schemas.openxmlformats.org/package/2006/relationships"
        there = parts.get(rels, f'<Relationships xmlns="{space}"></Relationships>'.encode())
        there = there.replace(b"/>", b"></Relationships>") if b"</Rel" not in there else there
        full = kind if "://" in kind else f"{OFFICE}/{kind}"
        made = f'<Relationship Id="rIdAdded{len(there)}" Type="{full}" Target="/{part}"/>'
        parts[rels] = there.replace(b"</Relationships>", f"{made}</Relationships>".encode())
        override = f'<Override PartName="/{part}" ContentType="{content_type}"/></Types>'
        types = parts["[Content_Types].xml"]
        parts["[Content_Types].xml"] = types.replace(b"</Types>", override.encode())
        parts[part] = content.encode()

    return inject


def _mine(parts: dict[str, bytes]) -> str:
    """Return the part of the owner's sheet: the last one that came in."""
    sheets = [n for n in parts if re.fullmatch(r"xl/worksheets/sheet\d+\.xml", n)]
    return sheets[-1]


def _in_book(old: str, new: str) -> Inject:
    def inject(parts: dict[str, bytes]) -> None:
        assert old.encode() in parts["xl/workbook.xml"]
        parts["xl/workbook.xml"] = parts["xl/workbook.xml"].replace(old.encode(), new.encode(), 1)

    return inject


def _in_mine(new: str) -> Inject:
    """Put something at the end of the owner's sheet."""

    def inject(parts: dict[str, bytes]) -> None:
        part = _mine(parts)
        parts[part] = parts[part].replace(b"</worksheet>", f"{new}</worksheet>".encode())

    return inject


CACHE = "xl/pivotCache/pivotCacheDefinition1.xml"
PIVOT = "xl/pivotTables/pivotTable1.xml"


def _pivot(source: str) -> tuple[Inject, ...]:
    """Return a pivot table at B3 of the owner's sheet."""
    table = (
        f'<pivotTableDefinition xmlns="{MAIN}" name="Mine" cacheId="1" dataCaption="V">'
        '<location ref="B3:C9" firstHeaderRow="1" firstDataRow="1" firstDataCol="1"/>'
        "</pivotTableDefinition>"
    )
    cache = (
        f'<pivotCacheDefinition xmlns="{MAIN}"><cacheSource type="worksheet">'
        f'<worksheetSource {source}/></cacheSource><cacheFields count="0"/></pivotCacheDefinition>'
    )
    of_cache = ("pivotCacheDefinition", f"{SPREADSHEET}.pivotCacheDefinition+xml")
    return (
        _added(("pivotTable", f"{SPREADSHEET}.pivotTable+xml"), PIVOT, table),
        _added(of_cache, CACHE, cache, PIVOT),
    )


CONTROL = (
    f'<formControlPr xmlns="{EXCEL_2010}" objectType="Drop" '
    'fmlaLink="\'25-0001\'!$B$3" fmlaRange="Jobs!$A$5:$A$9"/>'
)
CHOICE_2010 = (
    f'<extLst><ext xmlns:x14="{EXCEL_2010}" uri="{{CCE6A557-97BC-4b89-ADB6-D9C93CAAB3DF}}">'
    f'<x14:dataValidations xmlns:xm="{EXCEL_MAIN}" count="1"><x14:dataValidation type="list">'
    "<x14:formula1><xm:f>'25-0001'!$C$12:$C$20</xm:f></x14:formula1><xm:sqref>B3:B9</xm:sqref>"
    "</x14:dataValidation></x14:dataValidations></ext></extLst>"
)
OLD_CONTROL = (
    '<xml xmlns:x="urn:schemas-microsoft-com:office:excel"><x:ClientData ObjectType="Drop">'
    "<x:Anchor>1, 15, 2, 10, 5, 31, 6, 1</x:Anchor><x:FmlaLink>'25-0001'!$B$3</x:FmlaLink>"
    "</x:ClientData></xml>"
)
ACTIVE_X = (
    "<controls><control><controlPr linkedCell=\"'25-0001'!$B$3\"><anchor><from><col>1</col>"
    "<row>2</row></from></anchor></controlPr></control></controls>"
)
INJECTED: dict[str, tuple[tuple[Inject, ...], str]] = {
    "name": (
        (_in_book("<definedNames>", "<definedNames><definedName name=\"a_rate\">'25-0001'!$G$9"
                  "</definedName>"),), ": The name 'a_rate'",
    ),
    "name of a sheet": (
        (_in_book("<definedNames>", '<definedNames><definedName name="a_rate" localSheetId="1">'
                  "'25-0001'!$G$9</definedName>"),), ", sheet 'Jobs': The name 'a_rate'",
    ),
    "choice of 2010": ((_in_mine(CHOICE_2010),), ", sheet 'Mine', cell B3: " + CHOICE),
    "pivot table": (
        _pivot("ref='A1:C9' sheet='25-0001'"), ", sheet 'Mine', cell B3: A pivot table",
    ),
    "pivot table of a table": (
        _pivot("name='Job_25_0001'"), ", sheet 'Mine', cell B3: A pivot table",
    ),
    "control": (
        (_added(("ctrlProp", "application/vnd.ms-excel.controlproperties+xml"),
                "xl/ctrlProps/ctrlProp1.xml", CONTROL),), ", sheet 'Mine': A control",
    ),
    "control of 2007": (
        (_added(("vmlDrawing", "application/vnd.openxmlformats-officedocument.vmlDrawing"),
                "xl/drawings/vmlDrawing9.vml", OLD_CONTROL),),
        ", sheet 'Mine', cell B3: A control",
    ),
    "ActiveX control": ((_in_mine(ACTIVE_X),), ", sheet 'Mine', cell B3: A control"),
}  # fmt: skip


@pytest.mark.parametrize(("injects", "where"), INJECTED.values(), ids=list(INJECTED))
def test_what_other_programs_make_is_named_too(
    lt: Lt, shop: Path, injects: tuple[Inject, ...], where: str
) -> None:
    """Names of the book and of a sheet, pivot tables, controls of three kinds."""
    _own_sheet(shop, lambda _, sheet, __: sheet.write("A2", 1))
    parts = read_parts(shop)
    for inject in injects:
        inject(parts)
    write_parts(shop, parts)

    _is_named(lt, shop, where)


def test_a_link_of_a_picture_is_named(lt: Lt, shop: Path) -> None:
    """It leads to the sheet when clicked."""

    def put(_: object, sheet: Any, job: str) -> None:  # noqa: ANN401 - untyped
        image = {"image_data": io.BytesIO(png()), "url": f"internal:'{job}'!A1"}
        sheet.insert_image("D5", "red.png", image)

    _own_sheet(shop, put)

    rels = b"".join(c for n, c in read_parts(shop).items() if "drawings/_rels" in n)
    assert b"""Target="#'25-0001'!A1"/>""" in rels, "a place in the book, and no file outside"
    _is_named(lt, shop, ", sheet 'Mine': A link of a shape")


def test_a_computed_column_of_a_table_is_named(lt: Lt, shop: Path) -> None:
    """Also where no row holds its formula."""

    def put(_: object, sheet: Any, job: str) -> None:  # noqa: ANN401 - untyped
        columns = [{"header": "A"}, {"header": "B", "formula": f"='{job}'!$G$9"}]
        sheet.add_table("A10:B12", {"name": "Mine", "columns": columns})
        for row in (10, 11):
            sheet.write(row, 1, 0)

    _own_sheet(shop, put)

    _is_named(lt, shop, ", sheet 'Mine': A computed column of a table")


def test_a_slicer_elsewhere_keeps_the_sheet(lt: Lt, shop: Path) -> None:
    """What filters a table cannot lose it, not even with --anyway."""
    parts = read_parts(shop)
    table = next(c for n, c in parts.items() if b'displayName="Job_25_0001"' in c).decode()
    number = re.search(r' id="(\d+)"', table)
    assert number
    slicer = (
        f'<slicerCacheDefinition xmlns="{EXCEL_2010}" name="S" sourceName="Kind"><extLst><ext '
        'xmlns:x15="http://schemas.microsoft.com/office/spreadsheetml/2010/11/main" uri="{x}">'
        f'<x15:tableSlicerCache tableId="{number[1]}" column="2"/></ext></extLst>'
        "</slicerCacheDefinition>"
    )
    kind = "http://schemas.microsoft.com/office/2007/relationships/slicerCache"
    kinds = (kind, "application/vnd.ms-excel.slicerCache+xml")
    _added(kinds, "xl/slicerCaches/slicerCache1.xml", slicer, "xl/workbook.xml")(parts)
    write_parts(shop, parts)
    before = files_in(shop.parent)

    ran = lt("archive", shop.name, "--anyway", GOES, *DAY)

    assert ran.code == 1
    assert "a slicer on another sheet filters its lines" in ran.err
    assert files_in(shop.parent) == before


def test_macros_are_said_to_be_unread(lt: Lt, shop: Path) -> None:
    """They may name the sheet; the job is moved, and one note says so."""
    parts = read_parts(shop)
    kind = "http://schemas.microsoft.com/office/2006/relationships/vbaProject"
    kinds = (kind, "application/vnd.ms-office.vbaProject")
    _added(kinds, "xl/vbaProject.bin", "a project", "xl/workbook.xml")(parts)
    write_parts(shop, parts)

    ran = lt("archive", shop.name, *DAY)

    assert ran.code == 0
    assert ran.err.count("The macros of the book are not read") == 1
    assert ran.out.startswith("Moved 1 job")
    assert read_parts(shop)["xl/vbaProject.bin"] == b"a project"


def test_a_reference_put_together_from_pieces_is_not_seen(lt: Lt, shop: Path) -> None:
    """As the documentation says; the cell keeps its formula."""
    _own_sheet(shop, lambda _, s, __: s.write_formula("B3", """=INDIRECT("'"&A1&"'!G9")"""))

    assert lt("archive", shop.name, *DAY).code == 0
