"""Guarantee, storage, a price named on the telephone, vendors: on papers, end to end."""

from collections.abc import Callable
from pathlib import Path

import pytest

from ledger_tools.book.guarantee_layout import GUARANTEES_TABLE
from ledger_tools.book.layout import JOBS_TABLE
from ledger_tools.book.registers import ESTIMATE_LINES_TABLE
from tests.book.shop import Shop, Typed
from tests.commands.conftest import Lt, Ran, files_in
from tests.documents.examples import pdf_text

DAY = ("--today", "2025-03-03")
LINES = (
    "kind,description,quantity,unit_price,vendor,part_status\n"
    "labour,Weld seam,1.6,100,,\npart,Sender,1,64,,used\npart,Seal,2,3.10,,\n"
    "sublet,Line inside,1,84.50,Harbour Coatings,\n"
)
ONTARIO = "Repair Invoices (Ontario): parts and labour 90 days or 5,000 km, read in the source"
Opened = Callable[..., Shop]


@pytest.fixture
def opened(lt: Lt, tmp_path: Path, lines: Callable[[str], Path]) -> Opened:
    """Return what makes a book of a place with settings, in which one job waits for a yes."""

    def make(
        rules: str = "strict",
        *,
        tax: str = "none",
        told: str = "",
        state: str = "estimated",
        **said: Typed,
    ) -> Shop:
        book = tmp_path / "shop.xlsx"
        assert lt("new", book, "--rules", rules, "--tax", tax, *DAY).code == 0
        shop = Shop(book)
        for name, value in said.items():
            shop.decide(f"shop_{name}", value)
        band = ("--told", told) if told else ()
        ran = lt("add-job", book, "--customer", "Ann Bell", "--item", "Tank", "--lines",
                 lines(LINES), "--state", state, *band, *DAY)  # fmt: skip
        assert ran.code == 0, ran.err
        return shop

    return make


def printed(folder: Path, paper: str) -> str:
    """Return the words of the only PDF of a kind, blanks as they come."""
    (file,) = (folder / paper).glob("*.pdf")
    return " ".join(pdf_text(file.read_bytes()).split())


def codes(ran: Ran) -> list[str]:
    """Return the codes of the findings."""
    return [finding["code"] for finding in ran.json()["findings"]]


def test_the_words_of_the_law_win(lt: Lt, opened: Opened, tmp_path: Path) -> None:
    """'None' is left off and named; own words stay, with rights and law."""
    shop = opened("ca-on", guarantee="none\n90 days\nPaint is not ours.")
    shop.fill(JOBS_TABLE, 1, object_class="road vehicle")

    ran = lt("estimate", shop.path, "--json", *DAY)

    said = printed(tmp_path, "estimates")
    assert "There is no guarantee" not in said, ONTARIO
    assert "guaranteed for 90 days or 5,000 km, whichever comes first (Repair Invoices" in said
    assert "within 90 days of the invoice are put right free of charge. Paint is not ours." in said
    assert "Rights that the law gives you stay as they are." in said
    assert codes(ran).count("guarantee-void") == 1


@pytest.mark.parametrize("rules", ["strict", "ca-on"])
def test_where_no_law_is_known_the_shops_words_stand(
    lt: Lt, opened: Opened, tmp_path: Path, rules: str
) -> None:
    """Also for a loose tank in Ontario, which is no road vehicle; rights by law stay."""
    shop = opened(rules, guarantee="none")

    ran = lt("estimate", shop.path, "--json", *DAY)

    said = printed(tmp_path, "estimates")
    assert "There is no guarantee on this work. Rights that the law gives you stay" in said
    assert "By law" not in said
    assert "guarantee-void" not in codes(ran)


def test_an_invoice_says_it_too(lt: Lt, opened: Opened, tmp_path: Path) -> None:
    """For any object in the United Kingdom, without a class."""
    shop = opened("gb", state="to invoice", guarantee="none")

    ran = lt("invoice", shop.path, "--json", *DAY)

    said = printed(tmp_path, "invoices")
    assert "reasonable care and skill" in said
    assert "(Consumer Rights Act 2015, Parliament of the United Kingdom, sections 49" in said
    assert "There is no guarantee" not in said
    assert "guarantee-void" in codes(ran)


def test_a_law_that_voids_nothing_lets_the_shops_line_stand(
    lt: Lt, opened: Opened, tmp_path: Path
) -> None:
    """Both are printed, and nothing was left off."""
    shop = opened("gb", guarantee="none")
    shop.fill(GUARANTEES_TABLE, 1, void="no")

    ran = lt("estimate", shop.path, "--json", *DAY)

    said = printed(tmp_path, "estimates")
    assert "There is no guarantee on this work." in said
    assert "By law, whatever else is said here: a service for a consumer" in said
    assert "guarantee-void" not in codes(ran)


def test_a_class_of_guarantees_is_known_in_jobs(opened: Opened) -> None:
    """Also where no tolerance names it; another one is asked about, 'any' is none."""
    shop = opened("gb")
    shop.fill(GUARANTEES_TABLE, 2, object_class="Boat", words="care")
    found = {}
    for word in ("boat", "any"):
        shop.fill(JOBS_TABLE, 1, object_class=word)
        outcome = shop.check()
        found[word] = [f.code for f in outcome.findings if f.code == "object-class-unknown"]

    assert found == {"boat": [], "any": ["object-class-unknown"]}


def test_own_words_of_a_law_are_filled_in(lt: Lt, opened: Opened, tmp_path: Path) -> None:
    """A row that the owner typed is printed with its figures, from its first day on."""
    shop = opened("gb")
    shop.fill(GUARANTEES_TABLE, 1, words="Sound for {days} days.", days=30, source="Our act, 5")

    lt("estimate", shop.path, *DAY)

    assert "By law, whatever else is said here: Sound for 30 days (Our act, 5)." in printed(
        tmp_path, "estimates"
    )


@pytest.mark.parametrize(
    ("typed", "code", "key"),
    [
        ({"days": None}, "guarantee-figure", "days"),
        ({"days": 1.5}, "guarantee-figure", "days"),
        ({"unit": None}, "guarantee-figure", "unit"),
        ({"words": None}, "guarantee-words", "words"),
        ({"object_class": None}, "class-missing", "object_class"),
        ({"void": "perhaps"}, "yes-or-no", "void"),
    ],
)
def test_a_row_that_lacks_something_is_named(
    opened: Opened, typed: dict[str, Typed], code: str, key: str
) -> None:
    """By its cell; it prints nothing until it is mended."""
    shop = opened("ca-on")
    shop.fill(GUARANTEES_TABLE, 1, **typed)

    parsed = shop.parsed()

    found = [f for f in shop.check().findings if f.code == code]
    assert [f.cell for f in found] == [shop.cell(GUARANTEES_TABLE, 1, key)]
    assert parsed.book.guarantees == ()


def test_two_guarantees_from_one_day_on_are_named(opened: Opened) -> None:
    """Nobody could say which is printed."""
    shop = opened("ca-on")
    shop.fill(GUARANTEES_TABLE, 2, object_class="Road Vehicle", words="care")

    assert "rule-twice" in [f.code for f in shop.check().findings]


def test_storage_is_printed_with_its_caution(lt: Lt, opened: Opened, tmp_path: Path) -> None:
    """Free days and the price a day, as Florida asks; nothing where it costs nothing."""
    source = "Fla. Stat. 559.905, as summed up in 2021: daily storage rate on the estimate"
    shop = opened(storage_free_days=3, storage_price=12.5)
    lt("estimate", shop.path, *DAY)

    said = printed(tmp_path, "estimates")
    assert "free for 3 days after we tell you that the work is ready" in said, source
    assert "costs $12.50 a day before tax after that. Local law may restrict" in said, source


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("de", ("Gewährleistung", "Rechte, die das Gesetz", "Kraft Gesetzes", "12 Monaten nach",
                "Aufbewahrung", "Am Telefon nannten wir", "Ersetzte Teile", "Gebrauchtteil")),
        ("fr", ("Garantie", "Les droits que la loi", "De par la loi", "12 mois suivant",
                "Garde", "Au téléphone, nous avons annoncé", "Pièces remplacées", "occasion")),
    ],
)  # fmt: skip
def test_all_of_it_is_said_in_each_language(
    lt: Lt, opened: Opened, tmp_path: Path, language: str, words: tuple[str, ...]
) -> None:
    """None of the English words is left."""
    said = {"language": language, "guarantee": "12 months", "storage_price": 5}
    lt("estimate", opened("gb", told="80-140", **said).path, *DAY)

    text = printed(tmp_path, "estimates")
    assert [each for each in words if each not in text] == []
    assert [each for each in ("Guarantee", "Storage", "By law", "telephone") if each in text] == []


def test_a_price_of_storage_that_is_none_is_asked_about(opened: Opened) -> None:
    """By its cell on Start."""
    shop = opened()
    shop.decide("shop_storage_price", "a lot")

    (found,) = [f for f in shop.check().findings if f.code == "setting-unreadable"]
    assert "'Storage after them, a day' is 'a lot'" in found.what


def test_without_storage_nothing_is_said_of_it(lt: Lt, opened: Opened, tmp_path: Path) -> None:
    """Free days alone are no terms."""
    lt("estimate", opened(storage_free_days=3).path, *DAY)

    assert "Storage" not in printed(tmp_path, "estimates")


@pytest.mark.parametrize(
    ("told", "shown", "above"),
    [
        ("80-140", "$80.00\u2013$140.00.", 1),
        ("314.70", "$314.70.", 0),
        ("0-314.69", "$0.00\u2013$314.69.", 1),
    ],
)
def test_what_was_named_on_the_telephone_goes_along(  # noqa: PLR0913, PLR0917 - fixtures count
    lt: Lt, opened: Opened, tmp_path: Path, told: str, shown: str, above: int
) -> None:
    """160 + 70.20 + 84.50 = 314.70 by hand: at the upper end all is well, a cent above not."""
    shop = opened(told=told)

    ran = lt("estimate", shop.path, "--json", *DAY)

    assert f"On the telephone we named {shown}" in printed(tmp_path, "estimates")
    assert codes(ran).count("above-told") == above


@pytest.mark.parametrize(
    ("with_tax", "words", "above"),
    [("yes", "$350.00 with tax.", 1), ("no", "$350.00 before tax.", 0)],
)
def test_a_band_is_meant_as_authorised_amounts_are(  # noqa: PLR0913, PLR0917 - fixtures count
    lt: Lt, opened: Opened, tmp_path: Path, with_tax: str, words: str, above: int
) -> None:
    """314.70 net, 361.83 with two taxes by hand: 350 lies between them."""
    shop = opened(tax="ca-qc", told="350", authorised_with_tax=with_tax)

    ran = lt("estimate", shop.path, "--json", *DAY)

    assert f"On the telephone we named {words}" in printed(tmp_path, "estimates")
    assert codes(ran).count("above-told") == above


def test_an_enquiry_keeps_what_was_named_until_it_is_a_job(
    lt: Lt, opened: Opened, tmp_path: Path
) -> None:
    """Typed without number; the row gets its number and the figures stay."""
    shop = opened()
    shop.fill(JOBS_TABLE, 2, customer="R. Calder", item="Pan", state="enquiry",
              told_from=80, told_to=140, repair="OIL-PAN")  # fmt: skip
    lt("recompute", shop.path, *DAY)
    assert shop.value(JOBS_TABLE, 2, "number") is None
    shop.fill(JOBS_TABLE, 2, state="estimated")

    lt("recompute", shop.path, *DAY)
    lt("estimate", shop.path, "25-0002", *DAY)

    assert [shop.value(JOBS_TABLE, 2, k) for k in ("number", "told_from", "told_to")] == [
        "25-0002", 80, 140,
    ]  # fmt: skip
    assert "On the telephone we named $80.00\u2013$140.00" in printed(tmp_path, "estimates")


def test_a_band_from_more_to_less_is_an_error(lt: Lt, opened: Opened) -> None:
    """In the book by its cell, on the command line as wrong use."""
    shop = opened()
    shop.fill(JOBS_TABLE, 1, told_from=140, told_to=80)

    (found,) = [f for f in shop.check().findings if f.code == "told-band"]
    assert found.cell == shop.cell(JOBS_TABLE, 1, "told_to")
    for band in ("140-80", "a-b", "-5", "80-"):
        ran = lt("add-job", shop.path, "--customer", "A", "--item", "B", "--told", band, *DAY)
        assert ran.code == 2
        assert "80-140" in ran.err


@pytest.mark.parametrize(("said", "named"), [("yes", 1), ("no", 0)])
def test_vendors_are_named_where_start_says_so(
    lt: Lt, opened: Opened, tmp_path: Path, said: str, named: int
) -> None:
    """The register keeps the vendor either way."""
    shop = opened(name_vendors=said)

    lt("estimate", shop.path, *DAY)

    assert printed(tmp_path, "estimates").count("By Harbour Coatings") == named
    kept = [shop.value(ESTIMATE_LINES_TABLE, n, "vendor") for n in (1, 2, 3, 4)]
    assert kept == [None, None, None, "Harbour Coatings"]


def test_an_estimate_prints_again_though_all_terms_changed(
    lt: Lt, opened: Opened, tmp_path: Path
) -> None:
    """Words and figures are those of its day, byte for byte."""
    shop = opened("gb", told="80-140", guarantee="90 days", storage_price=5)
    lt("estimate", shop.path, *DAY)
    first = files_in(tmp_path / "estimates")
    changed: dict[str, Typed] = {"guarantee": "none", "storage_price": 9, "name_vendors": "no"}
    for name, value in changed.items():
        shop.decide(f"shop_{name}", value)
    shop.fill(JOBS_TABLE, 1, told_from=1, told_to=2)
    shop.fill(GUARANTEES_TABLE, 1, words="Nothing.")

    lt("reprint", shop.path, "25-0001/1", "--out", "again", *DAY)

    assert files_in(tmp_path / "again") == first
