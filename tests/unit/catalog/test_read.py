# ruff: noqa: E501  one mistake and the line it earns stand side by side
"""The user's own parts over the catalogue: what is added, replaced, refused, and how it is told."""

import re
from functools import partial

import pytest

from paneglow.catalog import find_film, find_laminate, find_part, find_surface, part_flux_lm, read_catalog
from paneglow.errors import CatalogError

LIKE = """
[sources]
sheet = "maker's data sheet, page 3, read on 2025-03-01"

[[part]]
code = "sv-1204-amber-lot7"
like = "sv-1204-amber"
intensity_mcd = { value = 90, low = 70, high = 110, origin = "sourced", source = "sheet" }
"""

LAMINATE = """
[[laminate]]
code = "lot-7"
like = "fr4-pale"
reduced_scatter_per_mm = { value = 1.1, origin = "measured", source = "step coupon of 2025-03-02" }
"""


def catalog_with(tmp_path, **files):
    for name, text in files.items():
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    return read_catalog(user_parts=tmp_path)


def problems_of(tmp_path, text):
    with pytest.raises(CatalogError) as caught:
        catalog_with(tmp_path, mine=text)
    prefix = f"{tmp_path / 'mine.toml'}: "
    lines = str(caught.value).splitlines()
    assert all(line.startswith(prefix) for line in lines), lines
    return [line.removeprefix(prefix) for line in lines]


def test_a_missing_parts_folder_adds_nothing(tmp_path):
    assert read_catalog(user_parts=tmp_path / "parts") == read_catalog()


def test_a_part_like_another_takes_over_what_it_does_not_say(tmp_path):
    catalog = catalog_with(tmp_path, mine=LIKE)
    own, base = find_part(catalog, "sv-1204-amber-lot7"), find_part(catalog, "sv-1204-amber")
    assert own.intensity_mcd is not None
    assert own.intensity_mcd.source == "maker's data sheet, page 3, read on 2025-03-01"
    assert own.flux_lm is None  # the flux it would have taken over gives way to its own intensity
    assert own.body == base.body
    assert own.spectrum == base.spectrum
    assert catalog.notes == ()


def test_a_known_code_is_replaced_and_noted(tmp_path):
    catalog = catalog_with(tmp_path, mine=LIKE.replace("sv-1204-amber-lot7", "sv-1204-amber"))
    assert catalog.notes == (f"{tmp_path.name}/mine.toml: part sv-1204-amber replaces the one known before",)
    assert find_part(catalog, "sv-1204-amber").intensity_mcd is not None
    assert find_part(read_catalog(), "sv-1204-amber").intensity_mcd is None


def test_files_are_read_in_the_order_of_their_names_and_build_on_each_other(tmp_path):
    second = LIKE.replace('like = "sv-1204-amber"', 'like = "sv-1204-amber-lot7"').replace('lot7"\nlike', 'lot8"\nlike')
    catalog = catalog_with(tmp_path, a=LIKE, b=second)
    assert find_part(catalog, "sv-1204-amber-lot8").body == find_part(catalog, "sv-1204-amber").body


def test_a_measured_lot_is_a_laminate_of_its_own(tmp_path):
    lot = find_laminate(catalog_with(tmp_path, lots=LAMINATE), "lot-7")
    assert lot.reduced_scatter_per_mm.origin == "measured"
    assert lot.assumed  # its absorption still is


WIDE = 'value = 1.0, low = 0.5, high = 2.0, origin = "assumed", source = "guess of mine"'


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ('[[part]]\ncode = "my-led"\nlike = "sv-1204-ambre"\n', "[[part]] 1, like: there is no 'sv-1204-ambre'; nearest is sv-1204-amber"),
        ('[[part]]\ncode = "my-led"\nlike = "tv-0603-red"\nflux = 3\n', "[[part]] 1: unknown key 'flux'; the nearest known one is flux_lm"),
        ('[[part]]\ncode = "My LED"\nlike = "tv-0603-red"\n', "[[part]] 1, code: "),
        ('[[part]]\ncode = "my-led"\nlike = "tv-0603-red"\n[part.half_angle_deg]\nvalue = 60\norigin = "assumed"\nsource = "eye"\n', "[[part]] 1, half_angle_deg: an assumed value needs both low and high"),
        ('[[part]]\ncode = "my-led"\nlike = "tv-0603-red"\n[part.half_angle_deg]\nvalue = 120\norigin = "measured"\nsource = "eye"\n', "[[part]] 1, half_angle_deg: reaches 120 to 120; allowed is 1 to 89"),
        ('[[part]]\ncode = "my-led"\nlike = "tv-0603-red"\n[part.flux_lm]\nvalue = -1\norigin = "measured"\nsource = "eye"\n', "[[part]] 1, flux_lm: reaches -1 to -1; allowed is 1e-06 to 1000"),
        ('[[part]]\ncode = "my-led"\nlike = "tv-0603-red"\n[part.flux_lm]\nvalue = nan\norigin = "measured"\nsource = "eye"\n', "[[part]] 1, flux_lm.value: is nan; a finite number is needed"),
        ('[[part]]\ncode = "my-led"\nlike = "tv-0603-red"\nbody = { length_mm = 2, width_mm = 1, height_mm = 1, origin = "assumed", source = "eye" }\n', "[[part]] 1, body: is assumed and needs its range: tolerance_mm"),
        ('[[part]]\ncode = "my-led"\nlike = "tv-0603-red"\nspectrum = { peaks = [{ peak_nm = 625, fwhm_nm = 20 }], origin = "assumed", source = "eye" }\n', "[[part]] 1, spectrum: is assumed and needs its range: shift_nm"),
        ('[[part]]\ncode = "my-led"\nlike = "tv-0603-red"\nemission = { angle_deg = [0, 90], relative_intensity = [1, 0], origin = "assumed", source = "eye" }\n', "[[part]] 1, emission: is assumed and needs its range: low_factor and high_factor"),
        ('[[part]]\ncode = "my-led"\nlike = "tv-0603-red"\nemission = { angle_deg = [0, 50, 40], relative_intensity = [1, 0, 0], origin = "measured", source = "eye" }\n', "[[part]] 1, emission: angle_deg must rise from entry to entry"),
        ('[[film]]\ncode = "teal"\nlike = "green"\ntransmittance = [0.5]\n', "[[film]] 1: every list must have as many entries as wavelength_nm (3)"),
        ('[[film]]\ncode = "teal"\nlike = "green"\nreflectance = [0.9, 0.9, 0.9]\n', "[[film]] 1: transmittance plus reflectance is above 1"),
        ('[[film]]\ncode = "teal"\nlike = "green"\ntransmittance_low_factor = 1\ntransmittance_high_factor = 1\n', "[[film]] 1: is assumed and needs its range: transmittance_low_factor and transmittance_high_factor"),
        ('[[surface]]\ncode = "foil"\nwavelength_nm = [550]\nreflectance = [0.3]\norigin = "assumed"\nsource = "eye"\n', "[[surface]] 1: is assumed and needs its range: low_factor and high_factor"),
        ('[[surface]]\ncode = "foil"\nwavelength_nm = [550]\nreflectance = [1.3]\norigin = "measured"\nsource = "eye"\n', "[[surface]] 1, reflectance item 1: is 1.3; allowed is at most 1"),
        ('[[laminate]]\ncode = "lot"\nlike = "fr4-pale"\n[[laminate]]\ncode = "lot"\nlike = "fr4-pale"\n', "[[laminate]] 2: code 'lot' already stands above"),
        ("[[parts]]\ncode = \"x\"\n", "unknown key 'parts'; the nearest known one is part"),
        ("sources = 3\n", "[sources] must hold texts in quotes"),
        (f'[[colour]]\ncode = "red"\ntest_current_ma = 5\nintensity_mcd = {{ {WIDE} }}\nforward_voltage_v = {{ {WIDE} }}\ncurrent_max_ma = {{ {WIDE} }}\nspectrum = {{ peaks = [{{ peak_nm = 625, fwhm_nm = 20 }}], origin = "measured", source = "eye" }}\n', "[[package]] and [[colour]] belong to the starting catalogue; write [[part]] tables"),
    ],
)  # fmt: skip
def test_one_mistake_is_told_with_file_record_and_field(tmp_path, text, problem):
    found = problems_of(tmp_path, text)
    assert found[0].startswith(problem)
    assert len(found) == 1


def test_a_file_that_is_not_toml_is_told_with_its_line(tmp_path):
    with pytest.raises(CatalogError, match=r"mine\.toml, line 2: is not TOML"):
        catalog_with(tmp_path, mine="[[part]]\ncode = \n")


@pytest.mark.parametrize(
    ("find", "code", "words"),
    [
        (
            find_part,
            "sv-1204-ambr",
            "part 'sv-1204-ambr' is not in .* nearest by size is sv-1204-amber .* paneglow parts new",
        ),
        (find_laminate, "fr4", "laminate 'fr4' is not in .* fr4-pale"),
        (partial(find_film, kind="mask"), "gren", "solder mask 'gren' is not in .* nearest is green"),
        (
            partial(find_film, kind="mask"),
            "white-legend",
            "'white-legend' is a legend ink, where a solder mask is meant: .*green",
        ),
        (find_surface, "copper-brite", "surface 'copper-brite' is not in .* nearest is copper-bright"),
    ],
)
def test_an_unknown_code_is_told_with_the_nearest_ones(find, code, words):
    with pytest.raises(CatalogError, match=words) as caught:
        find(read_catalog(), code)
    assert "\n" not in str(caught.value)


def test_flux_from_intensity_follows_the_lobe(tmp_path):
    narrow = LIKE + 'half_angle_deg = { value = 15, low = 12, high = 20, origin = "sourced", source = "sheet" }\n'
    wide, lens = (
        part_flux_lm(find_part(catalog_with(tmp_path, mine=text), "sv-1204-amber-lot7")) for text in (LIKE, narrow)
    )
    # 2 pi / (m + 1): pi sr at 60 deg, 0.2993 sr at 15 deg (m = 19.994)
    assert wide.value == pytest.approx(0.090 * 3.14159, rel=1e-4)
    assert lens.value == pytest.approx(0.090 * 0.29928, rel=1e-3)
    assert lens.lowest < 0.070 * 0.29928
    assert lens.highest > 0.110 * 0.29928
    assert lens.origin == "sourced"


def test_flux_from_intensity_follows_a_tabulated_lobe_and_its_range(tmp_path):
    cone = (
        "[part.emission]\nangle_deg = [0, 30]\nrelative_intensity = [1, 1]\nlow_factor = 0.5\nhigh_factor = 2\n"
        'origin = "assumed"\nsource = "eye against a wall"\n'
    )
    flux = part_flux_lm(find_part(catalog_with(tmp_path, mine=LIKE + cone), "sv-1204-amber-lot7"))
    # A cone of even intensity: 2 pi (1 - cos) sr, 15 to 30 deg; the wide end is cut where the table ends
    assert flux.value == pytest.approx(0.090 * 0.84179, rel=1e-4)
    assert flux.lowest == pytest.approx(0.070 * 0.21409, rel=1e-4)
    assert flux.highest == pytest.approx(0.110 * 0.84179, rel=1e-4)
    assert flux.origin == "assumed"


@pytest.mark.parametrize("code", ["LX-12.AB/5T", "nSPW500", "L_1+", "0603"])
def test_order_codes_hold_capitals_dots_and_slashes_as_real_ones_do(tmp_path, code):
    catalog = catalog_with(tmp_path, mine=LIKE.replace("sv-1204-amber-lot7", code))
    assert find_part(catalog, code).code == code


@pytest.mark.parametrize("code", ["LX 12", "-x", "a" * 61, "x;y", "../x"])
def test_a_code_that_is_none_is_refused_in_words(tmp_path, code):
    (line,) = problems_of(tmp_path, LIKE.replace("sv-1204-amber-lot7", code))
    assert line.startswith(
        f"[[part]] 1, code: {code[:60]!r} is no order code: letters, digits and - . / _ + are allowed"
    )


def test_a_part_nobody_knows_points_to_those_of_its_colour_and_size_and_to_part_new():
    with pytest.raises(CatalogError) as caught:
        find_part(read_catalog(), "QX1206-AMBER-9")
    line = str(caught.value)
    assert "nearest by colour is " in line
    assert "paneglow parts new" in line
    with pytest.raises(CatalogError) as caught:
        find_part(read_catalog(), "my-1206-amber")
    named = re.findall(r"[a-z]+-[0-9a-z]+-[a-z]+(?= \()", str(caught.value))
    assert named
    assert all("-1206-amber" in code for code in named)


def test_evidence_and_timings_of_a_day_to_come_are_refused(tmp_path):
    mark = 'mark = { shape = "dot", face = "top", at_mm = [-1, 0], terminal = "C",'
    mark += ' evidence = { kind = "meter-test", who = "me", date = 2999-01-01 } }\n'
    lines = problems_of(tmp_path, LIKE + mark)
    assert any("date 2999-01-01 has not come yet" in line for line in lines)
    timing = '[[timing]]\nmounting = "lens_down"\nleds = 4\nminutes = 8\ndate = 2999-01-01\nwho = "me"\n'
    (line,) = problems_of(tmp_path, timing)
    assert "date 2999-01-01 has not come yet" in line
    lines = problems_of(tmp_path, LIKE + mark.replace("2999", "1926"))
    assert any("date 1926-01-01 lies before the first visible LED" in line for line in lines)


@pytest.mark.parametrize(
    ("fact", "words"),
    [
        ('colour = "blue"\n', "colour is blue, but its spectrum is strongest at 592 nm"),
        (
            'mark = { shape = "dot", face = "top", at_mm = [-9.3, 0.0], terminal = "C",'
            ' evidence = { kind = "meter-test", who = "me", date = 2026-01-01 } }\n',
            "mark lies at (-9.3, 0) mm, off the part",
        ),
    ],
)
def test_facts_of_a_part_that_cannot_both_be_true_are_refused(tmp_path, fact, words):
    lines = problems_of(tmp_path, LIKE + fact)
    assert any(words in line for line in lines), lines


def test_more_light_than_any_power_gives_is_refused(tmp_path):
    # 20 mA at 2.4 V are 48 mW: 33 lm at the 683 lm/W of the SI; 70 cd over a cosine lobe are 220 lm
    for fact in (
        "flux_lm = { value = 380, low = 220, high = 400,",
        "intensity_mcd = { value = 90000, low = 70000, high = 100000,",
    ):
        text = re.sub(r"intensity_mcd = \{.*?high = 110,", fact, LIKE)
        (line,) = problems_of(tmp_path, text)
        assert "no light gives more than 683 lm/W" in line
