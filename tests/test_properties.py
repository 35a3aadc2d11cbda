"""What holds for anything that is written: angles, times, tables, mount files, targets, JSON."""

from __future__ import annotations

import contextlib
import csv
import io
import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

import pointmodel as pm
from pointmodel.aiming.targets import asked_targets
from pointmodel.base.angles import parse_angle_deg
from pointmodel.base.documents import json_text
from pointmodel.base.errors import InputError, Problem
from pointmodel.base.times import (
    TimeTextError,
    fixed_zone,
    format_utc_offset,
    parse_clock_s,
    parse_moment,
    parse_utc_offset_s,
)
from pointmodel.reading.mountfile import read_mount
from pointmodel.reading.nightlog import read_log
from pointmodel.sky.radec import parse_radec

quick = settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
SECOND_DEG = 1.0 / 3600.0


def read_or_refused(read: Callable[[], Any]) -> tuple[Any, tuple[Problem, ...]]:
    """What was read, or None and why it was refused."""
    try:
        return read(), ()
    except InputError as error:
        return None, error.problems


below_60 = st.integers(0, 59)
az_deg = st.decimals(0, 359, places=4).map(float)
alt_deg = st.decimals(1, 89, places=4).map(float)
offset_min = st.integers(-14 * 4, 14 * 4).map(lambda quarters: 15 * quarters)
moments = st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1))
words = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cf", "Cs", "Zl", "Zp"]), max_size=12
)
names = words.map(lambda text: " ".join(text.split())).filter(lambda text: text != "")


@quick
@given(
    st.integers(0, 359),
    below_60,
    st.decimals(0, 59, places=2),
    st.sampled_from([" ", ":", "marks", "typographic"]),
    st.sampled_from(["", "-", "−", "N", "S", " N", " S"]),
    st.booleans(),
)
def test_an_angle_is_read_alike_however_it_is_spelled(
    degrees: int, minutes: int, seconds: Any, marks: str, side: str, comma: bool
) -> None:
    figures = [str(degrees), f"{minutes:02d}", str(seconds)]
    between = {"marks": "°'\"", "typographic": "°′″"}.get(marks)
    text = (
        marks.join(figures)
        if between is None
        else "".join(map("".join, zip(figures, between, strict=True)))
    )
    text = f"{side}{text}" if side in ("", "-", "−") else f"{text}{side}"
    sign = -1.0 if side.strip() in ("-", "−", "S") else 1.0
    wanted = sign * (degrees + minutes / 60 + float(seconds) / 3600)
    text = text.replace(".", ",") if comma else text
    read = parse_angle_deg(f"  {text} ", decimal_comma=comma, sides="NS")
    assert read == pytest.approx(wanted, abs=1e-6 * SECOND_DEG)
    assert np.signbit(read) == (sign < 0.0)


@quick
@given(
    moments, offset_min, st.sampled_from(["T", " "]), st.sampled_from(["own", "zone", "Z", "UTC"])
)
def test_a_moment_is_read_alike_however_its_zone_is_told(
    moment: datetime, offset: int, between: str, told: str
) -> None:
    zone = timezone(timedelta(minutes=offset))
    moment = moment.replace(tzinfo=UTC if told in ("Z", "UTC") else zone)
    text = moment.replace(tzinfo=None).isoformat(between)
    text += {"own": format_utc_offset(offset * 60.0), "zone": ""}.get(told, told)
    read = parse_moment(text, fixed_zone(offset * 60.0) if told == "zone" else None)
    assert read.posix_s == pytest.approx(moment.timestamp(), abs=1e-5)
    assert read.offset_s == (0.0 if told in ("Z", "UTC") else offset * 60.0)
    assert not read.in_doubt


@quick
@given(offset_min, st.integers(0, 24 * 3600 - 1))
def test_offsets_and_clock_times_are_read_as_they_are_written(offset: int, second: int) -> None:
    assert parse_utc_offset_s(format_utc_offset(offset * 60.0)) == offset * 60.0
    assert parse_utc_offset_s(offset / 60.0) == offset * 60.0
    hour, minute, rest = second // 3600, second // 60 % 60, second % 60
    assert parse_clock_s(f"{hour}:{minute:02d}:{rest:02d}") == second
    half = "am" if hour < 12 else "pm"
    assert parse_clock_s(f"{(hour - 1) % 12 + 1}:{minute:02d}:{rest:02d} {half}") == second


@quick
@given(st.text(max_size=40), st.text("0123456789:T-+ Zz.UTC", max_size=40))
def test_any_text_is_a_time_or_is_said_to_be_none(text: str, alike: str) -> None:
    for one in (text, alike):
        for parse in (lambda t: parse_moment(t).posix_s, parse_clock_s, parse_utc_offset_s):
            with contextlib.suppress(TimeTextError):
                assert np.isfinite(parse(one))


pairs = st.lists(st.tuples(names, az_deg, alt_deg, az_deg, alt_deg, names), min_size=1, max_size=6)
HEADER = ["target", "commanded_az", "commanded_alt", "centred_az", "centred_alt", "note"]


@quick
@given(
    pairs,
    st.permutations(range(6)),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    st.booleans(),
    st.booleans(),
    st.booleans(),
)
def test_a_table_says_the_same_in_any_order_separator_encoding_and_quotation(
    rows: list[tuple[Any, ...]],
    order: list[int],
    mark: str,
    end: str,
    encoding: str,
    quotes: bool,
    told: bool,
    remarks: bool,
) -> None:
    out = io.StringIO()
    quoting = csv.QUOTE_ALL if quotes else csv.QUOTE_MINIMAL
    writer = csv.writer(out, delimiter=mark, lineterminator=end, quoting=quoting)
    comma = "," if mark == ";" else "."
    writer.writerow([HEADER[place] for place in order])
    for row in rows:
        cells = [c if isinstance(c, str) else f"{c:.4f}".replace(".", comma) for c in row]
        first = cells[order[0]]
        assume(quotes or not first.startswith(("#", "sep=")))  # a remark, unless it is in quotes
        writer.writerow([cells[place] for place in order])
        if remarks:
            out.write(f"# seeing 3{end}{end}")
    text = f"sep={mark}{end}{out.getvalue()}" if told else out.getvalue()
    log = read_log(io.BytesIO(text.encode(encoding)))
    assert list(log.target) == [row[0] for row in rows]
    assert list(log.note) == [row[5] for row in rows]
    read = (log.commanded_az_deg, log.commanded_alt_deg, log.centred_az_deg, log.centred_alt_deg)
    for column, values in zip(zip(*(row[1:5] for row in rows), strict=True), read, strict=True):
        np.testing.assert_allclose(values, column, rtol=0.0, atol=1e-9)


@quick
@given(st.binary(max_size=300), st.text("az,alt;\t\n\"'#=5. centred_commanded", max_size=200))
def test_any_bytes_are_a_log_or_are_refused_with_what_would_be_right(
    data: bytes, text: str
) -> None:
    header = ",".join(HEADER[:5])
    for one in (data, text.encode(), f"{header}\n{text}".encode(), header.encode() + b"\n" + data):
        log, problems = read_or_refused(lambda one=one: read_log(io.BytesIO(one)))
        assert log is None or np.isfinite(log.commanded_az_deg).all()
        assert all(problem.found and problem.wanted for problem in problems)


mounts = st.fixed_dictionaries(
    {},
    optional={
        "site": st.fixed_dictionaries(
            {
                "latitude": st.floats(-89, 89).map(lambda x: round(x, 6)),
                "longitude": st.floats(-179, 179).map(lambda x: round(x, 6)),
            },
            optional={
                "elevation": st.integers(-100, 5000),
                "time_zone": st.sampled_from(["Australia/Hobart", "UTC", "Asia/Kathmandu"]),
            },
        ),
        "optics": st.fixed_dictionaries({"field_of_view": st.integers(5, 200)}),
        "alignment": st.fixed_dictionaries(
            {"stars": st.lists(st.sampled_from(["Vega", "Deneb", "Rigel"]), unique=True)}
        ),
        "mount": st.fixed_dictionaries({"name": names}),
    },
)


@quick
@given(mounts)
def test_a_mount_file_says_the_same_as_tables_as_text_and_read_again(
    tables: dict[str, dict[str, Any]],
) -> None:
    mount = read_mount(tables)
    assert read_mount(mount.to_dict()) == mount
    text = "".join(
        f"[{table}]\n"
        + "".join(
            f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in keys.items()
        ).replace("\x7f", "\\u007f")
        for table, keys in tables.items()
    )
    path = Path("mount.toml")
    path.write_text(text, encoding="utf-8")
    assert read_mount(path).to_dict() == mount.to_dict()


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@quick
@given(az_deg, alt_deg, st.sampled_from([",", ";", ", ", "°, "]))
def test_a_place_is_the_same_target_as_text_and_as_figures(
    az: float, alt: float, mark: str
) -> None:
    (text,) = asked_targets(f"{az:.4f}{mark}{alt:.4f}")
    (figures,) = asked_targets((az, alt))
    assert text.place_deg == figures.place_deg == (az, alt)


@quick
@given(
    st.integers(0, 24 * 3600 - 1),
    st.integers(-90 * 3600, 90 * 3600),
    st.sampled_from(
        ["{0}:{1:02d}:{2:02d} {3}{4}:{5:02d}:{6:02d}", "{0}h{1}m{2}s, {3}{4}d{5}m{6}s"]
    ),
    st.sampled_from(["", " (of date)", " J2000"]),
)
def test_a_place_of_a_catalogue_is_read_back_to_the_second(
    ra_s: int, dec_arcsec: int, form: str, equinox: str
) -> None:
    rest = abs(dec_arcsec)
    figures = (ra_s // 3600, ra_s // 60 % 60, ra_s % 60, "-" if dec_arcsec < 0 else "+")
    text = form.format(*figures, rest // 3600, rest // 60 % 60, rest % 60) + equinox
    read = parse_radec(text)
    assert read is not None
    assert read.ra_deg == pytest.approx(ra_s / 240.0, abs=1e-9)
    assert read.dec_deg == pytest.approx(dec_arcsec / 3600.0, abs=1e-9)
    assert read.of_date == (equinox == " (of date)")


@quick
@given(st.text(max_size=40), st.text("0123456789:hms°'+-,; .d", max_size=40))
def test_any_text_is_a_target_or_is_said_to_be_none(text: str, alike: str) -> None:
    for one in (text, alike):
        targets, problems = read_or_refused(lambda one=one: asked_targets(one))
        assert targets or problems
        assert all(problem.wanted for problem in problems)


values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53), 2**53)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(codec="utf-8")),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(words, inner, max_size=4),
    max_leaves=12,
)


@quick
@given(st.dictionaries(words, values, max_size=4))
def test_a_document_comes_back_from_json_as_it_was(document: dict[str, Any]) -> None:
    assert json.loads(json_text(document)) == document


@quick
@given(values, st.sampled_from([np.nan, np.inf, -np.inf, np.float64("nan")]))
def test_no_document_holds_what_is_not_finite(value: Any, odd: float) -> None:
    with pytest.raises(ArithmeticError, match="is not a finite number"):
        json_text({"before": value, "list": [value, {"deep": odd}]})


@settings(quick, max_examples=4)
@given(
    st.lists(
        st.tuples(names, az_deg, alt_deg, st.integers(-9, 9), st.integers(-9, 9), names),
        min_size=3,
        max_size=5,
        unique_by=lambda row: (round(row[1], 1), round(row[2], 1)),
    )
)
def test_a_fit_that_was_saved_comes_back_as_it_was(rows: list[tuple[Any, ...]]) -> None:
    import pandas as pd

    frame = pd.DataFrame(
        [
            (name, az, alt, az + right / 60.0, min(alt + up / 60.0, 90.0), note)
            for name, az, alt, right, up, note in rows
        ],
        columns=HEADER,
    )
    fit = pm.fit(frame)
    again = pm.load_fit(fit.save("kept.json"))
    Path("kept.json").unlink()
    assert again.to_dict() == fit.to_dict()
    assert again.log.target == fit.log.target
    assert str(again) == str(fit)
