"""What is fed with damaged and hostile input, and must end in a clear refusal or a finding."""

import contextlib
import io
import tempfile
import zipfile
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from random import Random

from ledger_tools.billing.numbering import number_from, sequence_of
from ledger_tools.book.parse import parse
from ledger_tools.book.parts.archive import Entry, pack, write_entries
from ledger_tools.book.patch import patched_book
from ledger_tools.book.reader import read_content
from ledger_tools.book.work import add_job, work_out
from ledger_tools.costing.sublet import FractionUnreadableError, fraction_from
from ledger_tools.errors import ConfigError, Finding, LedgerError, LinesFileError
from ledger_tools.hours import MinutesUnreadableError, minutes_from
from ledger_tools.money import decimal_from
from ledger_tools.settings import load_seed, load_texts
from ledger_tools.settings.lines_file import COLUMNS, read_lines
from ledger_tools.shop.intake import draft_job
from ledger_tools.shop.snapshot import CellError, Scalar, Snapshot
from tests.book.mixed import mixed_book
from tests.book.shop import TODAY, changed
from tests.faults.books import book_with_invoice, books, paid
from tests.fuzz.mutate import altered, damaged, word
from tests.fuzz.structure import restructured
from tests.fuzz.verbs import FILE, through_a_verb

CONFIG = Path(__file__).resolve().parents[2] / "config"


@cache
def _books() -> tuple[bytes, ...]:
    """Return a shop book with an invoice, and a workbook full of other things."""
    with tempfile.TemporaryDirectory() as folder:
        full = mixed_book(Path(folder) / "full.xlsx").read_bytes()
    return book_with_invoice(), full


@cache
def _parts(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(content)) as opened:
        return {info.filename: opened.read(info) for info in opened.infolist()}


def _zipped(parts: dict[str, bytes]) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as opened:
        for name, part in parts.items():
            opened.writestr(name, part)
    return target.getvalue()


def _through(content: bytes) -> None:
    """Read a workbook file, work it out, add a job with its sheet, and read it again."""
    with contextlib.suppress(LedgerError):
        snapshot = read_content(content, FILE)
        outcome = work_out(snapshot, as_of=TODAY)
        if outcome.sound:
            draft = draft_job("New Name", "Rack", repair="", state="in work", opened=TODAY)
            outcome = add_job(snapshot, draft, as_of=TODAY)
        _said(outcome.findings)
        read_content(patched_book(content, FILE, outcome.plan), FILE)


def _said(findings: tuple[Finding, ...]) -> None:
    for finding in findings:
        assert finding.what, finding
        str(finding).encode("utf-8")


def damaged_file(random: Random) -> None:
    """A workbook file some bytes of which are wrong."""
    _through(damaged(random, random.choice(_books())))


def altered_part(random: Random) -> None:
    """A workbook whose zip is whole and whose XML is not what it should be."""
    book = random.choice(_books())
    packed = dict(_packed(book))
    for _ in range(random.choice((1, 1, 2))):
        name = random.choice(list(packed))
        packed[name] = pack(name, altered(random, _parts(book)[name]))
    _through(b"".join(write_entries(packed.values(), b"")))


@cache
def _packed(content: bytes) -> dict[str, Entry]:
    return {name: pack(name, part) for name, part in _parts(content).items()}


def altered_structure(random: Random) -> None:
    """A workbook whose parts are XML and say what makes no sense: all verbs have to bear it."""
    book = random.choice((*_books(), books().typed, paid().whole, paid().book))
    packed = dict(_packed(book))
    written = [name for name in packed if name.endswith((".xml", ".rels"))]
    cells = [name for name in written if "worksheets/sheet" in name]
    for _ in range(random.choice((1, 1, 1, 2))):
        name = random.choice(random.choice((written, cells)))
        packed[name] = pack(name, restructured(random, _parts(book)[name]))
    if random.random() < 0.05:
        packed.pop(random.choice(written))
    with contextlib.suppress(LedgerError):
        through_a_verb(random, b"".join(write_entries(packed.values(), b"")))


def renamed_part(random: Random) -> None:
    """A workbook some of whose parts are lost, doubled or go by another name."""
    parts = dict(_parts(random.choice(_books())))
    name, other = random.choice(list(parts)), random.choice(list(parts))
    lost = parts.pop(name)
    parts[random.choice((other, word(random)[:200].partition("\0")[0] or "x"))] = lost
    with contextlib.suppress(UnicodeEncodeError):
        _through(_zipped(parts))


@cache
def _snapshot() -> Snapshot:
    return read_content(book_with_invoice(), FILE)


def _scalar(random: Random) -> Scalar:
    numbers = (0.0, -1.0, 0.5, 1e300, -1e-300, 2.0**53, 45_000.0, 1e15, 0.1, random.uniform(-9, 9))
    choices: tuple[Scalar, ...] = (
        word(random), CellError("#N/A"), True, False, random.choice(numbers), None,
        float(random.getrandbits(40)),
    )  # fmt: skip
    return random.choice(choices)


def any_scalar_in_any_cell(random: Random) -> None:
    """Whatever a cell can show, in whichever cells of the registers and job sheets."""
    snapshot = _snapshot()
    for _ in range(random.choice((1, 1, 3, 30))):
        sheet = random.choice(snapshot.sheets)
        place = random.randrange(1, 40), random.randrange(1, 16)
        if sheet.values and random.random() < 0.7:
            place = random.choice(list(sheet.values))
        snapshot = changed(snapshot, sheet.name, {place: _scalar(random)})
    with contextlib.suppress(LedgerError):
        outcome = work_out(snapshot, as_of=TODAY)
        _said(outcome.findings)
        parse(snapshot, as_of=date(2024, 2, 29))


def words_for_figures(random: Random) -> None:
    """Minutes, numbers, fractions: what they read is in bounds, all else is refused by name."""
    written = word(random)
    with contextlib.suppress(MinutesUnreadableError):
        assert 0 <= minutes_from(written) <= 10**7
    with contextlib.suppress(MinutesUnreadableError):
        assert 0 <= minutes_from(random.uniform(-10, 10**7)) <= 10**7
    with contextlib.suppress(ValueError):
        assert abs(decimal_from(written)) < 10**11
    with contextlib.suppress(FractionUnreadableError):
        assert 0 <= fraction_from(written) <= 100


def lines_of_a_csv(random: Random) -> None:
    """A file of job lines, well formed or not."""
    header = list(COLUMNS[: random.choice((2, 10, len(COLUMNS)))])
    if random.random() < 0.2:
        header.append(word(random))
    rows = [[word(random) for _ in header] for _ in range(random.randrange(4))]
    kinds = ("labour", "material", "fee", "discount", "sublet", word(random))
    for row in rows:
        row[0] = random.choice(kinds)
    quote = random.choice(('"{}"', "{}"))
    text = "\n".join(",".join(quote.format(c) for c in row) for row in [header, *rows])
    content = text.encode("utf-8", "surrogatepass")
    if random.random() < 0.3:
        content = damaged(random, content or b"x")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lines.csv"
        path.write_bytes(content)
        with contextlib.suppress(LinesFileError):
            for line in read_lines(path):
                assert line.price is None or line.price >= 0
                assert line.actual is None or line.actual >= 0


def number_patterns(random: Random) -> None:
    """A pattern gives numbers that are told apart again, or is refused."""
    pieces = ("{yy}", "{yyyy}", "{n}", "{n:04}", "{n:9}", "-", "A", "{", "}", "{m}", word(random))
    pattern = "".join(random.choice(pieces) for _ in range(random.randrange(6)))
    n = random.randrange(1, 10**6)
    sequence_of(word(random), pattern)
    with contextlib.suppress(ConfigError):
        number = number_from(pattern, n, date(random.randrange(1, 9999), 1, 1))
        assert str(n) in number
        read = sequence_of(number, pattern)
        assert read is not None
        assert number_from(pattern, n + 1, date(2025, 1, 1)) != number


def configuration(random: Random) -> None:
    """A file of the shop's own configuration, damaged or with strange words."""
    files = [p for p in sorted(CONFIG.rglob("*.yaml")) if p.name != "currencies.yaml"]
    chosen = random.choice(files)
    content = chosen.read_bytes()
    lines = content.splitlines(keepends=True)
    for _ in range(random.choice((1, 2, 5))):
        at = random.randrange(len(lines))
        key, colon, _value = lines[at].partition(b":")
        new = key + colon + b" " + word(random).encode("utf-8", "replace") + b"\n"
        lines[at] = random.choice((b"", new, lines[at] + lines[at], damaged(random, lines[at])))
    with tempfile.TemporaryDirectory() as folder:
        own = Path(folder) / "config" / chosen.relative_to(CONFIG)
        own.parent.mkdir(parents=True)
        own.write_bytes(b"".join(lines))
        tax = chosen.stem if chosen.parent.name == "taxes" else "ca-qc"
        with contextlib.suppress(ConfigError):
            load_seed(tax, as_of=TODAY, beside=Path(folder))
        with contextlib.suppress(ConfigError):
            load_texts("en", Path(folder))


def papers(random: Random) -> None:
    """Whatever customers and shops call themselves, the invoice is made and is no formula."""
    from ledger_tools.documents.invoice import invoice_pdf  # noqa: PLC0415 - loads a typesetter
    from ledger_tools.documents.invoice_sheet import invoice_workbook  # noqa: PLC0415
    from ledger_tools.documents.paper import paper_findings  # noqa: PLC0415
    from tests.fuzz.paper import hostile_invoice  # noqa: PLC0415

    invoice = hostile_invoice(lambda: word(random), Decimal(random.randrange(10**6)) / 100)
    paper_findings(invoice)
    assert invoice_pdf(invoice).startswith(b"%PDF")
    made = _parts.__wrapped__(invoice_workbook(invoice))
    sheet = made["xl/worksheets/sheet1.xml"]
    assert b"HYPERLINK" not in sheet.upper().partition(b"<F>")[2].partition(b"</F>")[0]


Target = Callable[[Random], None]
TARGETS: dict[str, Target] = {
    target.__name__.replace("_", " "): target
    for target in (
        damaged_file,
        altered_part,
        altered_structure,
        renamed_part,
        any_scalar_in_any_cell,
        words_for_figures,
        lines_of_a_csv,
        number_patterns,
        configuration,
        papers,
    )
}
