"""Files that cannot be read, and the traps of TOML."""

from __future__ import annotations

import os

import pytest

from flownet.casefile import load_case
from flownet.casefile.syntax import parse
from flownet.schema.errors import CaseError
from tests.casefile.small import BASE, faults, load
from tests.each import each, named


def refused(path) -> tuple[str, ...]:
    """What is said of a file that cannot be read."""
    with pytest.raises(CaseError) as caught:
        load_case(path)
    return caught.value.faults


def test_a_case_is_a_file_or_its_folder(tmp_path):
    load(tmp_path, BASE)
    assert load_case(tmp_path) == load_case(str(tmp_path / "case.toml"))
    assert load_case(tmp_path).origin == "case.toml"


def test_what_is_not_there(tmp_path):
    assert refused(tmp_path / "box.toml") == ("box.toml: no such file",)
    (tmp_path / "boxes.toml").write_text(BASE)
    assert refused(tmp_path / "box.toml") == ('box.toml: no such file; did you mean "boxes.toml"?',)
    assert refused(tmp_path / "no" / "box.toml") == (
        "box.toml: no such file; its folder does not exist either",
    )
    assert refused(tmp_path) == (
        f"{tmp_path.name}: holds no case.toml; it holds boxes.toml: name the file",
    )
    (tmp_path / "many" / "box").mkdir(parents=True)
    start = "name a case file, or `flownet new NAME` writes one to start from"
    assert refused(tmp_path / "many") == (f"many: holds no case.toml; {start}",)
    (tmp_path / "many" / "box" / "case.toml").write_text(BASE)
    below = "holds no case.toml; below it are box: name the folder"
    assert refused(tmp_path / "many") == (f"many: {below}",)
    assert refused(tmp_path / "many" / "box" / "..") == (f"many: {below}",)
    assert refused("x" * 300 + ".toml")[0].endswith("cannot be read: file name too long")
    assert refused("x\0.toml") == ("x .toml: no such file",)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a named pipe")
def test_what_is_no_file(tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    assert refused(tmp_path / "pipe.toml") == ("pipe.toml: is not a file",)


@each(named([
        (b"", "case.toml: is empty; `flownet new NAME` writes one to start from"),
        (b"\xef\xbb\xbf \n", "case.toml: is empty; `flownet new NAME` writes one to start from"),
        (BASE.encode("utf-16"), "case.toml: is saved as UTF-16; save it as UTF-8"),
        (b'format = 1\ntitle = "40 \xb0C"\n',
         "case.toml: line 2: byte 0xb0 is not UTF-8; save the file as UTF-8"),
        (b"#" * 4_000_001, "case.toml: is too large (4.0 MB); at most 4 MB are read"),
        (b"\x00\x01\x02", "case.toml: line 1: invalid statement (got    )"),
    ]), "content line")  # fmt: skip
def test_what_is_no_text(tmp_path, content, line):
    (tmp_path / "case.toml").write_bytes(content)
    assert refused(tmp_path) == (line,)


def test_a_byte_order_mark_and_windows_line_ends_are_passed_over(tmp_path):
    plain = load(tmp_path, BASE)
    content = b"\xef\xbb\xbf" + BASE.replace("\n", "\r\n").encode()
    (tmp_path / "case.toml").write_bytes(content)
    assert load_case(tmp_path) == plain


MORE, NO_VALUE = "more stands after the value", "invalid value"


@each(named([
        ("area = 0.045 m2", MORE, 'text and quantities stand in quotes: area = "0.045 m2"'),
        ("t = 40°C", MORE, 'text and quantities stand in quotes: t = "40°C"'),
        ("from = outside", NO_VALUE, 'text and quantities stand in quotes: from = "outside"'),
        ("loss = 2,5", MORE, "decimals take a point: loss = 2.5"),
        ("loss = .5", NO_VALUE, "a number starts with a digit: loss = 0.5"),
        ("loss = 5.", MORE, "a number ends with a digit: loss = 5.0"),
        ("loss = 05", MORE, "a number has no zeros in front: loss = 5"),
        ("present = True", NO_VALUE, "true and false are written small: present = true"),
        ("limit = None", NO_VALUE, "what is not given has no line: leave it out"),
        ("area =", NO_VALUE, "area has no value; write one, or leave the line out"),
        ("filter.*.fouling = 2.0", "no key starts like this",
         'a path with * stands in quotes: "filter.*.fouling" = ...'),
        ('area: "4 cm2"', "no = after the key",
         'a value follows =, not a colon: area = "4 cm2"'),
        ("// remark", "invalid statement", "a remark starts with #"),
        ("loss = 2.5;", MORE, "a line has no ; at its end"),
        ('area = "450" cm2', MORE, 'the unit stands inside the quotes: area = "450 cm2"'),
        ('area = "450 cm2', "illegal character '\\n'", "a closing quote is missing"),
        ("area = “450 cm2”", NO_VALUE, 'straight quotes are wanted: "..."'),
        ("g = { loss = 0.6, }", "no key starts like this",
         "{ ... } stands on one line, without a comma at its end"),
        ('c = "C:\\data"', "unescaped '\\' in a string", "write / instead of \\"),
        ("[vent.a", "no ] after the name of the table",
         "the closing ] of the table's name is missing"),
        ("[vent.a b]", "no ] after the name of the table",
         "a name is made of letters, digits, - and _: [kind.name]"),
        ("[vent.]", "no key starts like this", "a name is missing: [kind.name]"),
        ("over pressure = 1", "no = after the key", "a key has no blanks: over_pressure = ..."),
        ("area", "no = after the key", "a line is `key = value` or `[kind.name]`"),
    ]))  # fmt: skip
def test_a_trap_of_toml_is_said_with_its_line_and_what_to_write(line, what, hint):
    with pytest.raises(CaseError) as caught:
        parse(f"a = 1\n{line}\nb = 2\n", "case.toml")
    assert caught.value.faults == (f"case.toml: line 2: {what} (got {line}); {hint}",)


def test_what_stands_twice():
    for text, line in (
        ("[vent.a]\nx = 1\n[vent.a]\n",
         "case.toml: line 3: [vent.a] stands twice; give each its own name"),
        ("x = 1\nx = 2\ny = 1\n",
         "case.toml: line 2: a key stands twice in its table (got x = 2); leave one of the two"),
    ):  # fmt: skip
        with pytest.raises(CaseError) as caught:
            parse(text, "case.toml")
        assert caught.value.faults == (line,)


def test_several_slips_are_said_at_once():
    text = "area = 1 m2\nx = a b\nz = 3\ny = 2,5\n[t\n"
    with pytest.raises(CaseError) as caught:
        parse(text, "case.toml")
    assert [line.split(":")[1].strip() for line in caught.value.faults] == [
        "line 1", "line 2", "line 4", "line 5",
    ]  # fmt: skip


@each(named([
        ("a = " + "[" * 5000, "lists or tables are nested too deep"),
        ("a = " + "1" * 5000, "a number has too many digits"),
        ('a = """x\n', "unterminated string at the end of the file; "
                       "a closing quote or bracket is missing"),
        ("a = [1,\n", "invalid value at the end of the file; "
                      "a closing quote or bracket is missing"),
    ]))  # fmt: skip
def test_what_has_no_line(text, what):
    with pytest.raises(CaseError) as caught:
        parse(text, "case.toml")
    assert caught.value.faults == (f"case.toml: {what}",)


def test_very_long_lines_are_told_in_short(tmp_path):
    """Patterns for hints are not tried on what nobody wrote by hand: it would take hours."""
    for line in ("a" * 100_000, "a " * 50_000 + "= 1", "x = " + "1 " * 50_000, "[" + "a." * 50_000,
                 "a . " * 50_000 + "= 1", 'x = { "a".' + "a." * 50_000 + "b = 1 }"):  # fmt: skip
        (fault,) = faults(tmp_path, line + "\n")
        assert len(fault) < 200


def test_tables_in_an_endless_chain_are_a_fault(tmp_path):
    chain = "".join(f'[fan.f{n}]\nlike = "f{n + 1}"\n' for n in range(2000))
    assert faults(tmp_path, BASE + chain + '[fan.f2000]\nlike = "left"\n') == (
        "case.toml: tables follow one another too deep",
    )


def test_nothing_a_user_writes_can_break_the_lines_of_an_error(tmp_path):
    extra = '[vent.v]\n"a\\nb\\u001b[31m" = 1\nfrom = "x\\ny"\nto = "top"\narea = "1\\ncm2"\nloss=1'
    for line in faults(tmp_path, BASE + extra):
        assert line.startswith("case.toml: vent.v.")
        assert line.isprintable()
