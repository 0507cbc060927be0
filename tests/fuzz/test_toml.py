"""Mangled job and kit files: a record or a LaglineError, never anything else."""

from __future__ import annotations

import random

import pytest

from lagline.data.demo_files import demo_files
from lagline.planning.intake import intake
from lagline.planning.job_edit import remove_value, set_value
from lagline.planning.job_file import job_from_text, read_job
from lagline.planning.kit_file import generic_kit, kit_from_text, read_kit
from lagline.records.errors import LaglineError
from lagline.records.job import Job
from lagline.records.kit import Kit

FILES = demo_files()
ROUNDS = 200
ODD = [
    "nan", "inf", "-1", "0", '""', "true", "[]", "{}", '"1/0"', '"12,5"', "1e400", "0xffffffffffffffffffff",
    "1979-05-27", '"\\u0000"', '"' + "9" * 300 + '"', "[[0, 0], [nan, 1], [2, 2]]", '[{ a = 1 }]', '"10 ga"', "-0.0",
    '"½"', '"any"', "[0, 0]", '"../../x.dxf"', '"3/8 furlongs"', "5000", "[[1], [2]]",
]  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("demo")
    for name, data in FILES.items():
        (path / name).write_bytes(data)
    return path


def mangled(text: str, rng: random.Random) -> str:
    lines = text.splitlines()
    for _ in range(rng.randint(1, 4)):
        i = rng.randrange(len(lines))
        match rng.randrange(6):
            case 0:
                lines[i] = lines[i].split("=")[0] + "= " + rng.choice(ODD)
            case 1:
                del lines[i]
            case 2:
                lines.insert(i, lines[rng.randrange(len(lines))])
            case 3:
                j = rng.randrange(len(lines[i]) + 1)
                lines[i] = lines[i][:j] + rng.choice('"[]{}=#,.\\0-xé\t') + lines[i][j + rng.randrange(2) :]
            case 4:
                lines = lines[: max(1, i)]
            case _:
                lines[i] = lines[i][::-1] if rng.random() < 0.3 else lines[i].replace("=", "= -", 1)
    return "\n".join(lines)


def test_mangled_jobs(folder):
    text, read = FILES["job.toml"].decode(), 0
    for seed in range(ROUNDS):
        result = outcome(job_from_text, mangled(text, random.Random(seed)), folder, "job.toml")
        if check(result):
            read += 1
            job = result[0]
            assert isinstance(job, Job)
            assert job.parts
            assert job.plates
            blanks, noticed = intake(job)
            assert len(blanks) == len(job.parts)
            assert all(f.where and f.message for f in noticed)
    assert 10 < read < ROUNDS - 50  # both ends are reached, or this test is asleep


def test_mangled_kits():
    text, read = FILES["kit.toml"].decode(), 0
    for seed in range(ROUNDS):
        result = outcome(kit_from_text, mangled(text, random.Random(seed)), "kit.toml")
        if check(result):
            read += 1
            assert isinstance(result[0], Kit)
    assert 10 < read < ROUNDS - 50


def test_one_field_at_a_time_set_to_something_odd(folder):
    for name, read in (
        ("job.toml", lambda t: job_from_text(t, folder, "j")),
        ("kit.toml", lambda t: kit_from_text(t, "k")),
    ):
        lines = FILES[name].decode().splitlines()
        fields = [i for i, line in enumerate(lines) if "=" in line and not line.startswith("#")]
        for seed in range(ROUNDS // 2):
            rng = random.Random(seed)
            i = rng.choice(fields)
            text = "\n".join([*lines[:i], line_with(lines[i], rng.choice(ODD)), *lines[i + 1 :]])
            check(outcome(read, text))


def line_with(line: str, value: str) -> str:
    return line.split("=")[0] + "= " + value


def outcome(read, *given):
    """What reading gives: its result, or the LaglineError itself."""
    try:
        return read(*given)
    except LaglineError as e:
        return e


def check(result) -> bool:
    """True when it was read; every finding says where and what."""
    findings = result.findings if isinstance(result, LaglineError) else result[1]
    assert all(f.where and f.message for f in findings)
    return not isinstance(result, LaglineError)


def test_random_bytes(tmp_path):
    for seed in range(30):
        rng = random.Random(seed)
        path = tmp_path / f"{seed}.toml"
        path.write_bytes(rng.randbytes(rng.randrange(400)))
        with pytest.raises(LaglineError):
            read_job(path)
        if path.stat().st_size:
            try:
                read_kit(path)
            except LaglineError:
                continue


def test_edits_of_mangled_texts():
    text = FILES["job.toml"].decode()
    for seed in range(60):
        rng = random.Random(seed)
        broken = mangled(text, rng)
        path = rng.choice(
            [("name",), ("parts", 2, "quantity"), ("plates", 0, "width"), ("stock", "grade"), ("x", 0, "y")]
        )
        for change in (lambda b, p: set_value(b, p, 3), remove_value):
            try:
                assert isinstance(change(broken, path), str)
            except LaglineError:
                continue


def test_generic_kit_does_not_depend_on_what_was_read():
    assert generic_kit() == kit_from_text("", "built in")[0]
