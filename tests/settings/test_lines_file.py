"""Job lines from a CSV file: every column read, everything wrong said at once."""

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from ledger_tools.costing.lines import Kind, Line
from ledger_tools.errors import LinesFileError
from ledger_tools.settings.lines_file import COLUMNS, read_lines

HEADER = "kind,description,quantity,unit_price,actual,non_billable,reason,vendor,cost,markup"
LABOUR = Line(1, Kind.LABOUR, "Weld", "min")
PART = Line(1, Kind.PART, "Seal")
D = Decimal


def file_of(folder: Path, *rows: str, header: str = HEADER) -> Path:
    """Return a CSV file with a header and rows."""
    path = folder / "lines.csv"
    path.write_text("\n".join((header, *rows)) + "\n", encoding="utf-8")
    return path


def problem_with(path: Path) -> str:
    """Return what is said of a file that is refused."""
    with pytest.raises(LinesFileError) as refused:
        read_lines(path)
    return str(refused.value)


@pytest.mark.parametrize(
    ("row", "line"),
    [
        ("labour,Weld,,,,,,,,", LABOUR),
        ("labour,Weld,1.5,,,,,,,", replace(LABOUR, estimate=D(90))),
        ("labour,Weld,0.35,,,,,,,", replace(LABOUR, estimate=D(21))),
        ("labour,Weld,,,1h30,12 min,rework,,,",
         replace(LABOUR, actual=D(90), non_billable=D(12), reason="rework")),
        ("labour,Weld,,85.50,90,,,,,", replace(LABOUR, price=D("85.50"), actual=D(90))),
        ("part,Seal,2,9.00,3,1,Other,Rail Supply,7.25,",
         replace(PART, estimate=D(2), price=D("9.00"), actual=D(3), non_billable=D(1),
                 reason="other", vendor="Rail Supply", cost=D("7.25"))),
        ("part,Seal,,,,,,,380,20%", replace(PART, cost=D(380), price=D(456))),
        ("part,Seal,,,,,,,380,0.20", replace(PART, cost=D(380), price=D(456))),
        ("part,Seal,,,,,,,380,", replace(PART, cost=D(380), price=D(380))),
        ("part,Seal,,5,,,,,380,20%", replace(PART, cost=D(380), price=D(5))),
        ("part,Seal,,0,,,,,380,20%", replace(PART, cost=D(380), price=D(0))),
        ("part,Seal,,,0,,,,,", replace(PART, actual=D(0))),
        ("PART, Seal ,,,,,,,,", PART),
        ("discount,Goodwill,1,20,,,,,,",
         Line(1, Kind.DISCOUNT, "Goodwill", estimate=D(1), price=D(20))),
        ('part,"Seal, ""big""",,,,,,,,', replace(PART, description='Seal, "big"')),
        ("part,=SUM(A1),,,,,,@x,,", replace(PART, description="=SUM(A1)", vendor="@x")),
        ("part,\u00c9t\u00e9,,,,,,,,", replace(PART, description="\u00c9t\u00e9")),
        ("material,Rod,0.125,,,,,,,", Line(1, Kind.MATERIAL, "Rod", estimate=D("0.125"))),
    ],
)  # fmt: skip
def test_a_row_becomes_a_line(tmp_path: Path, row: str, line: Line) -> None:
    """Hours become minutes, a price wins over cost and markup, words stay words."""
    assert read_lines(file_of(tmp_path, row)) == (line,)


def test_optional_columns_in_any_order(tmp_path: Path) -> None:
    """Only kind and description are needed."""
    path = file_of(
        tmp_path, "5,zero,m,welding,part,Seal", "7.50,,,welding,labour,Weld",
        header="agreed_price,tax_class,unit,labour_class,kind,description",
    )  # fmt: skip

    part, weld = read_lines(path)

    assert part == replace(PART, agreed_price=D(5), tax_class="zero", unit="m")
    assert weld == replace(
        LABOUR, line_id=2, agreed_price=D("7.50"), unit="min", labour_class="welding"
    )


@pytest.mark.parametrize(
    ("word", "status"), [("", ""), ("new", ""), ("Used", "used"), ("reconditioned",) * 2]
)
def test_a_part_may_say_what_it_is(tmp_path: Path, word: str, status: str) -> None:
    """New is what nothing means too; labour has no such thing."""
    path = file_of(
        tmp_path, f"part,Seal,{word}", "labour,Weld,", header="kind,description,part_status"
    )

    assert [line.part_status for line in read_lines(path)] == [status, ""]


def test_another_word_for_a_part_is_refused(tmp_path: Path) -> None:
    """With the words there are."""
    path = file_of(tmp_path, "part,Seal,spare", header="kind,description,part_status")

    assert "part_status 'spare': choose one of new, used, reconditioned" in problem_with(path)


def test_lines_are_numbered_in_the_order_of_the_file(tmp_path: Path) -> None:
    """Empty rows do not count."""
    path = file_of(tmp_path, "fee,a,,,,,,,,", "", ",,,,,,,,,", "fee,b,,,,,,,,")

    assert [(line.line_id, line.description) for line in read_lines(path)] == [(1, "a"), (2, "b")]


def test_a_file_with_nothing_but_its_header_has_no_lines(tmp_path: Path) -> None:
    """Which is no fault."""
    assert read_lines(file_of(tmp_path)) == ()


def test_a_mark_of_the_byte_order_is_no_part_of_the_header(tmp_path: Path) -> None:
    """Some programs write one."""
    path = file_of(tmp_path, "fee,a,,,,,,,,")
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))

    assert [line.description for line in read_lines(path)] == ["a"]


@pytest.mark.parametrize(
    ("row", "column", "quoted"),
    [
        ("welding,x,,,,,,,,", "kind", "welding"),
        (",x,,,,,,,,", "kind", ""),
        ("labour,x,an hour,,,,,,,", "quantity", "an hour"),
        ("labour,x,1.001,,,,,,,", "quantity", "1.001"),
        ("labour,x,9999999,,,,,,,", "quantity", "9999999"),
        ("labour,x,,,1.5,,,,,", "actual", "1.5"),
        ("labour,x,,,-5,,,,,", "actual", "-5"),
        ("part,x,-1,,,,,,,", "quantity", "-1"),
        ('part,x,"1,5",,,,,,,', "quantity", "1,5"),
        ("part,x,1e3,,,,,,,", "quantity", "1e3"),
        ("part,x,nan,,,,,,,", "quantity", "nan"),
        ("part,x,1e999999,,,,,,,", "quantity", "1e999999"),
        ("part,x,\u0663,,,,,,,", "quantity", "\u0663"),
        ("part,x,,9 EUR,,,,,,", "unit_price", "9 EUR"),
        ("part,x,,,,,nap,,,", "reason", "nap"),
        ("part,x,,,,,,,free,", "cost", "free"),
        ("part,x,,,,,,,5,20", "markup", "20"),
        ("part,x,,,2,3,other,,,", "non_billable", "3"),
        ("part,x,2,,,3,other,,,", "non_billable", "3"),
        ("labour,x,2,,,3,other,,,", "non_billable", "3"),
    ],
)  # fmt: skip
def test_a_cell_that_cannot_be_used_is_named(
    tmp_path: Path, row: str, column: str, quoted: str
) -> None:
    """With its row in the file, its column, what stands there and what may."""
    said = problem_with(file_of(tmp_path, "fee,a,,,,,,,,", row))

    assert said.startswith(f"lines.csv: row 3, {column} '{quoted}': ")
    assert "Nothing was written" in said


def test_everything_wrong_is_said_at_once(tmp_path: Path) -> None:
    """Several cells of several rows, each with its row."""
    said = problem_with(
        file_of(tmp_path, "magic,a,x,,,,,,,", "fee,b,,,,,,,,", "part,c,,y,,,nap,,,z")
    )

    assert [part.partition(":")[0] for part in said.split("; ")] == [
        "lines.csv",
        "row 2, quantity 'x'",
        "row 4, reason 'nap'",
        "row 4, unit_price 'y'",
        "row 4, markup 'z'",
    ]


def test_a_row_after_a_text_of_several_lines_keeps_its_number(tmp_path: Path) -> None:
    """The row is that of the file as an editor counts it."""
    said = problem_with(file_of(tmp_path, 'fee,"two\nlines",,,,,,,,', "fee,b,x,,,,,,,"))

    assert "row 4, quantity 'x'" in said


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("kind,description,price", "column 'price' is not known here"),
        ("kind;description", "column 'kind;description' is not known here"),
        ("kind,description,kind", "column 'kind' stands there twice"),
        ("kind,quantity", "column 'description' is missing"),
        ("description", "column 'kind' is missing"),
        ("", "column 'kind' is missing"),
    ],
)
def test_a_header_that_cannot_be_used(tmp_path: Path, header: str, said: str) -> None:
    """Unknown, twice or missing; the columns there are, are listed."""
    problem = problem_with(file_of(tmp_path, header=header))

    assert said in problem
    assert ", ".join(COLUMNS) in problem


def test_uneven_rows_are_named_all(tmp_path: Path) -> None:
    """A comma too many or too few is no guesswork."""
    said = problem_with(
        file_of(tmp_path, "fee,a,,,,,,,,", "fee,b, c,,,,,,,,", "fee,d", "fee,e,,,,,,,,")
    )

    assert "rows 3, 4 have more or fewer cells" in said


@pytest.mark.parametrize(
    "content",
    [
        "kind,description\nfee,H\u00e4lfte\n".encode("latin-1"),
        "kind,description\nfee,x\n".encode("utf-16"),
        b'kind,description\nfee,"open\n',
        b"\x00\x01\x02",
    ],
    ids=["latin-1", "utf-16", "open-quote", "binary"],
)
def test_a_file_that_is_no_csv_in_utf_8(tmp_path: Path, content: bytes) -> None:
    """Said with the way to save it."""
    path = tmp_path / "lines.csv"
    path.write_bytes(content)

    assert "lines.csv" in problem_with(path)


def test_the_columns_are_those_of_the_documentation() -> None:
    """The ten of the header people copy, and five more."""
    assert ",".join(COLUMNS[:10]) == HEADER
    assert set(COLUMNS[10:]) == {
        "labour_class",
        "unit",
        "tax_class",
        "agreed_price",
        "part_status",
    }
