"""Shop rules: found, merged, traced to their file, and refused in one line with the key and the nearest name."""

import dataclasses
import json
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from toml_text import toml_text

from preflight.checking import all_checks
from preflight.errors import UsageFault
from preflight.findings import Severity
from preflight.rules import list_rules, settle, show, validate

SHIPPED = ("heatset-web", "newsprint", "packaging", "sheetfed-coated", "sheetfed-uncoated", "standard")


@pytest.fixture
def own(tmp_path):
    """Writes a rules file and gives its path."""

    def write(text, name="own.toml"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def refused(path, *words):
    """Settling must fail with one line that holds all these words, in this order."""
    with pytest.raises(UsageFault) as caught:
        settle(path)
    text = str(caught.value)
    assert "\n" not in text and text.isprintable(), text
    at = 0
    for word in (Path(path).name, *words):
        assert word in text[at:], f"{word!r} is not in {text!r} after {text[:at]!r}"
        at = text.index(word, at) + len(word)
    return text


# --- the shipped files


def test_without_a_name_it_is_sheetfed_coated():
    assert settle().rules_name == "sheetfed-coated"
    assert settle().rules_sha256 == settle("sheetfed-coated").rules_sha256


def test_shipped_rules_are_listed_with_titles():
    listed = {name: (title, path) for name, title, path in list_rules()}
    assert set(SHIPPED) <= set(listed)
    assert all(title and path.is_file() for title, path in listed.values())
    assert len({title for title, _ in listed.values()}) == len(listed)


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_rules_give_every_limit_and_severity(name):
    job = settle(name)
    for check_name, check in all_checks().items():
        assert isinstance(job.limits[check_name], check.limits)
        for kind in check.kinds:
            assert isinstance(job.severity[check_name][kind], Severity)
            assert (f"{kind}-mild" in job.severity[check_name]) == (kind in check.mild_kinds)


@pytest.mark.parametrize("name", SHIPPED)
def test_every_figure_of_the_shipped_rules_has_a_source(name):
    bare = [
        row.key for row in show(settle(name)) if not row.source.strip() and not row.key.startswith(("shop.", "cost."))
    ]
    assert bare == []


def test_no_limit_has_a_default_in_code():
    """The rules files are the only place a limit lives."""
    given = [
        f"{name}.{item.name}"
        for name, check in all_checks().items()
        for item in dataclasses.fields(check.limits)
        if item.default is not dataclasses.MISSING or item.default_factory is not dataclasses.MISSING
    ]
    assert given == []


#: Screen ruling, and the resolution limits at 1.0 and 1.5 times it: the catalogue of checks.
@pytest.mark.parametrize(
    ("name", "ruling", "low", "soft"),
    [
        ("sheetfed-coated", 150, 150, 225),
        ("packaging", 150, 150, 225),
        ("sheetfed-uncoated", 133, 133, 200),
        ("heatset-web", 133, 133, 200),
        ("newsprint", 85, 85, 127),
    ],
)
def test_resolution_follows_the_screen_ruling(name, ruling, low, soft):
    job = settle(name)
    limits = job.limits["resolution"]
    assert (job.press.screen_lpi, limits.low_below_ppi, limits.soft_below_ppi) == (ruling, low, soft)
    assert limits.low_below_ppi == pytest.approx(1.0 * ruling, abs=0.5)
    assert limits.soft_below_ppi == pytest.approx(1.5 * ruling, abs=0.5)
    assert limits.excessive_above_ppi == pytest.approx(3.0 * ruling, abs=0.5)


#: The severities of the catalogue of checks, in the order its rows stand; a milder second case after the stroke.
CATALOGUE = """
file.unreadable stop | file.locked stop | file.restricted note | file.repaired ask/note | file.active-content note
file.attachment note | file.annotation ask | file.preseparated stop | file.foreign-print-settings ask
trim.undefined ask/note | trim.wrong-size stop | trim.mixed-sizes ask | trim.turned ask | trim.boxes-crossed ask/note
trim.scaled note | trim.spread ask | bleed.missing stop | bleed.short ask | bleed.empty stop | margins.near-trim ask
margins.gutter ask | margins.frame ask | marks.in-bleed ask | pages.wrong-count stop | pages.binding-multiple stop
pages.blank ask | binding.creep ask/note | binding.spine-width ask | fold.panels ask | resolution.low stop
resolution.soft ask | resolution.excessive note | resolution.line-art-low stop | resolution.line-art-soft ask
colour.rgb ask | colour.lab ask | colour.other-cmyk ask | colour.intent-missing ask/note | colour.unexpected-ink stop/note
colour.missing-ink ask | colour.spot-names-clash ask | colour.spot-recipes-differ ask | colour.registration stop
total-ink.high stop/note | total-ink.near note | black.many-inks ask | black.thin-solid note | black.knocks-out ask
tint.too-light note | transparency.live off/ask | transparency.blend-space ask/note | layers.print-differs ask
line.hairline stop | line.thin ask | line.thin-many-inks ask | font.not-embedded stop | font.type3-bitmap ask | font.faulty ask
type.small ask | type.small-many-inks ask | type.small-reversed ask | type.legal-minimum ask
overprint.vanishes stop | overprint.changes ask | trap.gap note | image.unknown-size ask | image.upsampled ask
image.screened ask/note | image.compressed ask | image.crooked ask | image.soft-line-art ask | image.paper-tint note
image.extra-channels ask/note | standard.claim-broken ask | finishing.plate-missing stop | finishing.knocks-out stop
finishing.tinted ask | finishing.unordered ask | barcode.too-small ask | barcode.quiet-zone ask | barcode.colour ask
barcode.unreadable ask
"""
SEVERITIES = dict(row.split() for row in CATALOGUE.replace("\n", " | ").split("|") if row.strip())


@pytest.mark.parametrize("name", list(all_checks()))
def test_severities_are_those_of_the_catalogue(name):
    held = settle("standard").severity[name]
    for kind in all_checks()[name].kinds:
        usual, _, mild = SEVERITIES[f"{name}.{kind}"].partition("/")
        assert held[kind] == usual, kind
        if mild:
            assert held[f"{kind}-mild"] == mild, kind


#: The rows of the catalogue with four values: coated, uncoated, heat-set web, newsprint.
FOUR = {
    "resolution.low_below_ppi": (150, 133, 133, 85),
    "resolution.soft_below_ppi": (225, 200, 200, 127),
    "total-ink.high_above_percent": (330, 300, 300, 240),
    "total-ink.near_above_percent": (300, 280, 280, 220),
    "total-ink.severity.near": ("note", "note", "note", "ask"),
    "tint.too_light_below_percent": (3, 3, 3, 5),
    "type.small_many_inks_below_pt": (8, 8, 8, 10),
    "type.reversed_one_ink_below_pt": (6, 6, 6, 10),
    "type.reversed_many_inks_below_pt": (8, 8, 8, 14),
}


@pytest.mark.parametrize("key", FOUR)
def test_limits_by_printing_condition(key):
    names = ("sheetfed-coated", "sheetfed-uncoated", "heatset-web", "newsprint")
    assert tuple(settle(name).values[key]["value"] for name in names) == FOUR[key]


def test_no_shipped_rules_change_another_severity():
    changed = {name: settle(name).changed_severities for name in SHIPPED}
    assert changed == dict.fromkeys(SHIPPED, ()) | {
        "newsprint": ("total-ink.near: note -> ask",),
        # A carton is neither bound nor folded into panels.
        "packaging": (
            "binding.creep: ask -> off",
            "binding.creep-mild: note -> off",
            "binding.spine-width: ask -> off",
            "fold.panels: ask -> off",
        ),
    }


@pytest.mark.parametrize(
    ("name", "intents"),
    [
        ("sheetfed-coated", ("FOGRA39", "FOGRA51", "CGATS TR 006")),
        ("packaging", ("FOGRA39", "FOGRA51", "CGATS TR 006")),
        ("sheetfed-uncoated", ("FOGRA29", "FOGRA47", "FOGRA52")),
        ("heatset-web", ("FOGRA28", "FOGRA40", "FOGRA45", "FOGRA46", "CGATS TR 003", "CGATS TR 005")),
        ("newsprint", ("IFRA26", "IFRA30", "CGATS TR 002")),
    ],
)
def test_output_conditions_of_the_stock(name, intents):
    assert settle(name).press.intents == intents


@pytest.mark.parametrize(
    "ink",
    [
        "Die Cut",
        "CUT CONTOUR",
        "Stanzform",
        "Heißfolie",
        "Vernis sélectif",
        "troquel",
        "Fustella",
        "Stanslijn",
        "Braille 2",
    ],
)
def test_finishing_inks_are_known_by_name(ink):
    assert settle().is_finishing(ink)


@pytest.mark.parametrize(
    "ink", ["Fern Green", "Diesel Blue", "Cutlery Grey", "Refoldable", "White", "Black", "Scarlet", "Orange 021"]
)
def test_printing_inks_are_not_taken_for_finishing(ink):
    assert not settle().is_finishing(ink)


# --- merging


def test_a_file_holds_only_what_differs(own):
    path = own('title = "Ours"\nextends = "standard"\n[resolution]\nlow_below_ppi = 140\nsource = "our own tests"\n')
    job, standard = settle(path), settle("standard")
    assert job.limits["resolution"] == dataclasses.replace(standard.limits["resolution"], low_below_ppi=140.0)
    assert job.rules_title == "Ours"
    assert job.values["resolution.low_below_ppi"] == {"value": 140.0, "from": "own.toml", "source": "our own tests"}
    assert job.values["resolution.soft_below_ppi"]["from"] == "standard.toml"
    assert job.origins["resolution.low_below_ppi"] == "own.toml"
    assert "our own tests" in job.sources["resolution"]
    assert job.changed_severities == ()
    assert job.rules_sha256 != standard.rules_sha256


def test_severities_merge_kind_by_kind(own):
    path = own('extends = "standard"\n[resolution]\nseverity = { soft = "off" }\n')
    job, standard = settle(path), settle("standard")
    assert job.severity["resolution"] == standard.severity["resolution"] | {"soft": Severity.OFF}
    assert job.changed_severities == ("resolution.soft: ask -> off",)
    assert job.values["resolution.severity.soft"]["from"] == "own.toml"
    assert job.values["resolution.severity.low"]["from"] == "standard.toml"


def test_a_check_can_be_switched_off_whole(own):
    kinds = ", ".join(f'{kind} = "off"' for kind in all_checks()["resolution"].kinds)
    job = settle(own(f'extends = "standard"\n[resolution]\nseverity = {{ {kinds} }}\n'))
    assert not job.is_enabled("resolution")
    assert settle("standard").is_enabled("resolution")


def test_chains_take_the_nearest_file(own):
    own('extends = "newsprint"\n[resolution]\nlow_below_ppi = 90\nsoft_below_ppi = 120\n', "house/base.toml")
    path = own('extends = "house/base.toml"\n[resolution]\nsoft_below_ppi = 130\n')
    job = settle(path)
    limits = job.limits["resolution"]
    assert (limits.low_below_ppi, limits.soft_below_ppi, limits.excessive_above_ppi) == (90, 130, 255)
    assert [job.origins[f"resolution.{key}"] for key in ("low_below_ppi", "soft_below_ppi", "excessive_above_ppi")] == [
        "base.toml",
        "own.toml",
        "newsprint.toml",
    ]
    assert job.press.screen_lpi == 85
    assert job.rules_title == settle("newsprint").rules_title


def test_a_name_may_mean_a_file_beside(own):
    own('extends = "standard"\n[press]\nscreen_lpi = 175\n', "art-books.toml")
    assert settle(own('extends = "art-books"\n')).press.screen_lpi == 175


def test_the_hash_is_of_the_values_not_of_the_file(own):
    plain = own('extends = "standard"\n[resolution]\nlow_below_ppi = 140\n', "a.toml")
    same = own(
        '# a note\nextends = "standard"\n[resolution]\nlow_below_ppi = 140.0\n[shop]\nname = "Tidewheel Press"\n',
        "b.toml",
    )
    other = own('extends = "standard"\n[resolution]\nlow_below_ppi = 141\n', "c.toml")
    assert settle(plain).rules_sha256 == settle(same).rules_sha256 != settle(other).rules_sha256
    severity = own('extends = "standard"\n[resolution]\nlow_below_ppi = 140\nseverity = { low = "ask" }\n', "d.toml")
    assert settle(severity).rules_sha256 != settle(plain).rules_sha256


def test_a_shop_may_say_its_terms_in_several_languages(own):
    text = '[shop]\nfees = "24 pounds"\n[shop.de]\nfees = "28 Euro"\naddress = """Am Wehr 1\nTidewheel"""\n'
    job = settle(own('extends = "standard"\n' + text))

    assert job.shop["fees"] == "24 pounds"
    assert job.shop["de"] == {"fees": "28 Euro", "address": "Am Wehr 1\nTidewheel"}
    assert {row.key for row in show(job) if row.key.startswith("shop.de")} == {"shop.de.fees", "shop.de.address"}


def test_shop_and_cost_are_optional_and_kept(own):
    job = settle(
        own('extends = "standard"\n[shop]\nname = "Tidewheel Press"\nfees = """one\ntwo"""\n[cost]\nplate = 12\n')
    )
    assert (job.shop["name"], job.shop["fees"], job.shop["email"]) == ("Tidewheel Press", "one\ntwo", "")
    assert (job.cost["plate"], job.cost["currency"]) == (12.0, None)
    assert set(settle().cost.values()) == {None}


def test_a_file_may_start_with_a_byte_order_mark(own):
    assert settle(own(b'\xef\xbb\xbfextends = "standard"\n')).rules_name == "own"


def test_rows_of_show_are_every_effective_value():
    job = settle()
    rows = {row.key: row for row in show(job)}
    assert rows["resolution.low_below_ppi"].value == job.limits["resolution"].low_below_ppi
    assert rows["press.intents"].from_file == "sheetfed-coated.toml"
    limits = sum(len(dataclasses.fields(check.limits)) for check in all_checks().values())
    assert limits == sum(1 for key in rows if key.split(".")[0] in all_checks() and ".severity." not in key)
    json.dumps([row._asdict() for row in rows.values()])


def test_validate_takes_a_path_of_any_name(own):
    assert validate(own('extends = "standard"\n', "ours")).rules_name == "ours"


# --- the press profile


def _profile(space=b"CMYK", signature=b"acsp"):
    header = bytearray(128)
    header[16:20], header[36:40] = space, signature
    return bytes(header)


def test_the_press_profile_is_taken_from_the_folder_of_the_file_that_names_it(own, tmp_path):
    (tmp_path / "house").mkdir()
    (tmp_path / "house" / "press.icc").write_bytes(_profile())
    own('extends = "standard"\n[press]\nprofile = "press.icc"\n', "house/base.toml")
    job = settle(own('extends = "house/base.toml"\n'))
    assert Path(job.press.profile) == tmp_path / "house" / "press.icc"
    assert job.values["press.profile"]["value"] == "press.icc"
    before = job.rules_sha256
    (tmp_path / "house" / "press.icc").write_bytes(_profile() + b"another press")
    assert settle(tmp_path / "own.toml").rules_sha256 != before


@pytest.mark.parametrize(
    "content", [None, b"", b"no profile at all", _profile(space=b"RGB "), _profile(signature=b"none")]
)
def test_a_press_profile_that_is_none_is_refused(own, tmp_path, content):
    if content is not None:
        (tmp_path / "press.icc").write_bytes(content)
    refused(own('extends = "standard"\n[press]\nprofile = "press.icc"\n'), "[press] profile", "press.icc")


# --- wrong files, one line each


def wrong(text):
    return 'extends = "standard"\n' + text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[resolution]\nlow_below_pp = 140\n", ["[resolution] low_below_pp", "unknown key", "low_below_ppi"]),
        ("[resolutoin]\nlow_below_ppi = 140\n", ["[resolutoin]", "unknown table", "resolution"]),
        ('[resolution]\nseverity = { lwo = "ask" }\n', ["severity.lwo", "unknown kind", "low"]),
        ('[resolution]\nseverity = { low-mild = "ask" }\n', ["severity.low-mild", "unknown kind", "low"]),
        ('[resolution]\nseverity = { low = "stpo" }\n', ["severity.low", "off, note, ask, stop", '"stpo"', "stop"]),
        ("[resolution]\nseverity = { low = false }\n", ["severity.low", "off, note, ask, stop", "false"]),
        ('[resolution]\nseverity = "ask"\n', ["[resolution] severity", "a table"]),
        ('[resolution]\nlow_below_ppi = "140"\n', ["low_below_ppi", "a number", '"140"']),
        ("[resolution]\nlow_below_ppi = true\n", ["low_below_ppi", "a number", "true"]),
        ("[resolution]\nlow_below_ppi = nan\n", ["low_below_ppi", "a number of 0 or more", "nan"]),
        ("[resolution]\nlow_below_ppi = inf\n", ["low_below_ppi", "a number of 0 or more", "inf"]),
        ("[resolution]\nlow_below_ppi = -1\n", ["low_below_ppi", "a number of 0 or more", "-1"]),
        (f"[resolution]\nlow_below_ppi = 1{'0' * 400}\n", ["low_below_ppi", "a number"]),
        (f"[resolution]\nlow_below_ppi = 0x1{'0' * 9000}\n", ["low_below_ppi", "a number"]),
        ("[resolution]\nlow_below_ppi = []\n", ["low_below_ppi", "a number", "an empty list"]),
        ("[resolution]\nlow_below_ppi = { a = 1 }\n", ["low_below_ppi", "a number", "a table"]),
        ("[resolution]\nlow_below_ppi = 2026-11-25\n", ["low_below_ppi", "a number", "2026-11-25"]),
        ("[resolution]\nexcessive_above_bytes = 1.5\n", ["excessive_above_bytes", "a whole number", "1.5"]),
        ("[resolution]\nsource = 3\n", ["[resolution] source", "a text", "3"]),
        ("[press]\nscreen_lpi = 0\n", ["[press] screen_lpi", "above 0", "0"]),
        ('[press]\nintents = "FOGRA39"\n', ["[press] intents", "a list of texts", '"FOGRA39"']),
        ("[press]\nintents = [39]\n", ["[press] intents", "a list of texts", "[39]"]),
        ("[press]\nscreen = 150\n", ["[press] screen", "unknown key", "screen_lpi"]),
        ("[inks]\nfinishing_words = ['']\n", ["[inks] finishing_words", "a list of texts"]),
        ('[shop]\nemial = "a@b"\n', ["[shop] emial", "unknown key", "email"]),
        ('[shop.de]\nfee = "x"\n', ["[shop.de] fee", "unknown key", "fees"]),
        ('[shop.german]\nfees = "x"\n', ["[shop.german]", "[shop.de]"]),
        ("[shop.de]\nfees = 7\n", ["[shop.de] fees", "expected"]),
        ('[shop]\nemail = "a@b\\nBcc: c"\n', ["[shop] email", "without line ends"]),
        ('[cost]\nplate = "10 EUR"\n', ["[cost] plate", "a number", "10 EUR"]),
        ("[cost]\nplate = -1\n", ["[cost] plate", "of 0 or more", "-1"]),
        ("[cost]\nplates = 4\n", ["[cost] plates", "unknown key", "plate"]),
        ("[cost]\nmake_ready_hour = 140\n", ["[cost] make_ready_hours", "needed too", "make_ready_hour"]),
        ("[cost]\nspoiled_sheets = 4000\n", ["[cost] spoiled_sheet", "needed too", "spoiled_sheets"]),
        ("resolution = 150\n", ["resolution", "a table"]),
        ("titel = 'x'\n", ["titel", "unknown key", "title"]),
        ('"a\\nb\\u001b[31m" = 1\n', ["unknown key"]),
        ("title = 3\n", ["title", "a text", "3"]),
        ("[resolution\n", ["not valid TOML", "line 2"]),
        ("a = 1\na = 2\n", ["not valid TOML"]),
    ],
)
def test_wrong_rules_are_refused_in_one_line(own, text, words):
    refused(own(wrong(text)), *words)


def test_what_lacks_is_named(own):
    text = refused(own("[press]\nscreen_lpi = 150\n"), "lacks", "[inks] finishing_words", 'extends = "standard"')
    assert "more" in text


@pytest.mark.parametrize(
    ("rules", "words"),
    [
        ("sheetfed-coted", ["sheetfed-coted", "unknown rules name", "sheetfed-coated"]),
        ("", ["unknown rules name"]),
        ("..", ["unknown rules name"]),
        ("nowhere/else.toml", ["nowhere/else.toml", "no such rules file"]),
        ("new\nline.toml", ["no such rules file"]),
        ("nul\0.toml", ["rules file"]),
        ("half-\ud800.toml", ["rules file"]),
        ("x" * 5000 + ".toml", ["rules file"]),
    ],
)
def test_rules_that_are_nowhere(rules, words):
    with pytest.raises(UsageFault) as caught:
        settle(rules)
    text = str(caught.value)
    assert "\n" not in text and text.isprintable()
    assert all(word in text for word in words), text


def test_a_folder_is_no_rules_file(tmp_path):
    (tmp_path / "folder.toml").mkdir()
    refused(tmp_path / "folder.toml", "not a file")


def test_circles_are_refused(own):
    own('extends = "b.toml"\n', "a.toml")
    own('extends = "a.toml"\n', "b.toml")
    with pytest.raises(UsageFault, match=r"b\.toml: extends: goes round in a circle: a\.toml -> b\.toml -> a\.toml"):
        settle(own('extends = "a.toml"\n'))
    refused(own('extends = "self.toml"\n', "self.toml"), "extends", "circle: self.toml -> self.toml")


@pytest.mark.parametrize(
    ("extends", "words"),
    [('"standrad"', ["standrad", "standard"]), ('"gone.toml"', []), ('""', ["a text"]), ("7", ["a text"])],
)
def test_extends_of_what_is_not_there(own, extends, words):
    with pytest.raises(UsageFault) as caught:
        settle(own(f"extends = {extends}\n"))
    assert all(word in str(caught.value) for word in words), str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", ["lacks"]),
        ('extends = "standard"'.encode("utf-16"), ["not UTF-8"]),
        (b'title = "caf\xe9"\n', ["not UTF-8"]),
        (b"\0" * 100, ["not valid TOML"]),
        (b"a = " + b"[" * 50_000 + b"]" * 50_000, ["nested too deeply"]),
        (b"a = " + b"{a=" * 20_000 + b"1" + b"}" * 20_000, ["nested too deeply"]),
        (b"x" * 300_000, ["over 256 KB"]),
        (b"a." * 3000 + b"a = 1", ["unknown table"]),
        (b"a = " + b"9" * 6000, ["not valid TOML"]),
        (b"\x89PNG\r\n\x1a\n", ["not UTF-8"]),
    ],
)
def test_odd_bytes_are_refused_in_one_line(own, data, words):
    refused(own(data), *words)


KEYS = st.text(max_size=8) | st.sampled_from(
    [
        *("title", "extends", "press", "inks", "shop", "cost", "severity", "source", "low", "soft"),
        *("screen_lpi", "profile", "finishing_words"),
        *all_checks(),
        *(item.name for check in all_checks().values() for item in dataclasses.fields(check.limits)),
    ]
)
LEAVES = (
    st.none().map(lambda _: date(2026, 11, 25))
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=12)
    | st.sampled_from(["off", "ask", "standard", "newsprint", "own.toml"])
)
VALUES = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4), max_leaves=12
)


@settings(max_examples=150, deadline=None)
@given(table=st.dictionaries(KEYS, VALUES, max_size=6))
def test_no_toml_value_ends_in_anything_but_a_usage_fault(tmp_path_factory, table):
    path = tmp_path_factory.getbasetemp() / "own.toml"
    path.write_text(toml_text({"extends": "standard"} | table), encoding="utf-8")
    try:
        settle(path)
    except UsageFault as fault:
        assert str(fault).isprintable()


@settings(max_examples=100, deadline=None)
@given(value=VALUES, key=st.sampled_from([item.name for item in dataclasses.fields(all_checks()["resolution"].limits)]))
def test_a_limit_is_a_number_or_refused(tmp_path_factory, value, key):
    path = tmp_path_factory.getbasetemp() / "limit.toml"
    path.write_text(toml_text({"extends": "standard", "resolution": {key: value}}), encoding="utf-8")
    try:
        limit = getattr(settle(path).limits["resolution"], key)
    except UsageFault as fault:
        assert f"[resolution] {key}" in str(fault)
        return
    assert not isinstance(value, bool) and limit == value and 0 <= limit <= 1e12


@settings(max_examples=100, deadline=None)
@given(data=st.binary(max_size=200))
def test_no_bytes_end_in_anything_but_a_usage_fault(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "bytes.toml"
    path.write_bytes(data)
    with pytest.raises(UsageFault):
        settle(path)


def test_rules_need_no_pdf_or_image_library():
    """Settling rules is for every command; the engines cost half a second."""
    code = (
        "import sys; from preflight.rules import settle; settle();"
        "print([name for name in ('pymupdf', 'fitz', 'pikepdf', 'PIL', 'numpy') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=Path(__file__).parents[1]
    )
    assert json.loads(done.stdout.replace("'", '"')) == []
