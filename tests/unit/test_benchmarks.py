"""Two stored runs of the benchmarks side by side."""

from __future__ import annotations

import json

from compare import compare
from measuring import Row


def _stored(path, rows):
    about = {"machine": {"commit": path.stem}, "rows": [row._asdict() for row in rows], "notes": []}
    path.write_text(json.dumps(about), encoding="utf-8")
    return path


def test_rows_are_matched_by_name_and_head_and_clear_changes_are_marked(tmp_path):
    before = [
        Row("one tank", 4.0, 3.9, 4.1, "ms"),
        Row("  ratio", 50.0, 49.0, 51.0, "times"),
        Row("many tanks", 16.0, 15.0, 17.0, "us"),
        Row("  ratio", 700.0, 690.0, 710.0, "times"),
        Row("gone", 1.0, 1.0, 1.0, "s"),
    ]
    after = [
        Row("many tanks", 16.5, 15.5, 17.5, "us"),
        Row("  ratio", 350.0, 340.0, 360.0, "times"),
        Row("one tank", 2.0, 1.9, 2.1, "ms"),
        Row("new", 0.0, 0.0, 0.0, "s"),
    ]
    text = compare(_stored(tmp_path / "a.json", before), _stored(tmp_path / "b.json", after))
    lines = [line.split() for line in text.splitlines()]
    assert "{'commit': 'a'}" in text.splitlines()[0]
    assert ["one", "tank", "4", "2", "ms", "0.500", "*"] in lines
    assert ["many", "tanks", "16", "16.5", "us", "1.031"] in lines
    assert ["ratio", "700", "350", "times", "0.500", "*"] in lines
    assert f"only in {tmp_path / 'a.json'}: gone / gone" in text
    assert f"only in {tmp_path / 'a.json'}: one tank / ratio" in text
    assert f"only in {tmp_path / 'b.json'}: new / new" in text
