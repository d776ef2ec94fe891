"""A study on disk: one JSON record of its inputs, and a Parquet part for each chunk that is done.

Parts are named by their first scenario. A part appears whole or not at all, so a run that was killed
goes on with the first chunk that is missing.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lpgrelease.errors import InputError, StoreMismatchError
from lpgrelease.studies.describe import differences
from lpgrelease.studies.outputs import Column, Origin
from lpgrelease.studies.running import Answered

__all__ = ["Store"]

RECORD = "study.json"


class Store:
    """Directory of one study.

    Parameters
    ----------
    path : str or path
        The directory; made if it is not there.
    """

    lazy: bool = True

    def __init__(self, path: Any) -> None:
        self.path: Path = Path(path)

    def record(self) -> dict[str, Any] | None:
        """Read the inputs of the study that is stored here, None where there is none."""
        file = self.path / RECORD
        if not file.exists():
            if self.path.exists() and (not self.path.is_dir() or any(self.path.glob("*.parquet"))):
                raise InputError(f"store: {self.path} is no store of a study, and not an empty place for one")
            return None
        try:
            found: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
        except ValueError as error:
            raise InputError(f"store: {file} cannot be read: {error}") from error
        return found

    def open(self, record: dict[str, Any]) -> None:
        """Write the record, or compare it with the one that is there.

        Raises
        ------
        StoreMismatchError
            The store was made with other inputs; the error names what differs.
        """
        stored = self.record()
        if stored is None:
            self.path.mkdir(parents=True, exist_ok=True)
            text = json.dumps(record, indent=1, ensure_ascii=False)
            _replace(self.path / RECORD, lambda file: file.write_text(text, encoding="utf-8"))
        elif found := differences(stored, json.loads(json.dumps(record))):
            raise StoreMismatchError(str(self.path), tuple(found))

    def done(self) -> list[int]:
        """First scenarios of the chunks that are stored, rising."""
        return sorted(int(file.stem.split("-")[1]) for file in self.path.glob("part-*.parquet"))

    def write(self, answered: Answered) -> None:
        """Store one chunk: first the scenarios that failed, if any, then the part that marks it done."""
        if answered.failed.size:
            about = {"error": Column(np.array(answered.errors, dtype=object))}
            self._write("failed", answered.start, answered.failed, answered.failed_inputs, about, Origin())
        self._write(
            "part", answered.start, answered.scenarios, answered.inputs, answered.columns, answered.origin
        )

    def _write(
        self,
        kind: str,
        start: int,
        scenarios: NDArray[np.int64],
        inputs: dict[str, NDArray[Any]],
        columns: dict[str, Column],
        origin: Origin,
    ) -> None:
        import pyarrow as pa
        from pyarrow import parquet

        arrays, fields = [pa.array(scenarios)], [pa.field("scenario", pa.int64())]
        for name, values in inputs.items():
            arrays.append(_to_arrow(values))
            fields.append(pa.field(f"input.{name}", arrays[-1].type))
        for name, column in columns.items():
            arrays.append(_to_arrow(column.values))
            fields.append(pa.field(f"output.{name}", arrays[-1].type, metadata=_about(column)))
        about = {"origin": json.dumps(origin.texts)}
        table = pa.Table.from_arrays(arrays, schema=pa.schema(fields, metadata=about))
        target = self.path / f"{kind}-{start:012d}.parquet"
        _replace(
            target, lambda file: parquet.write_table(table, file, use_dictionary=False, compression="zstd")
        )

    def rows(self, kind: str, start: int) -> int:
        """Rows of a part; 0 where there is none of its kind."""
        from pyarrow import parquet

        file = self._file(kind, start)
        return parquet.read_metadata(file).num_rows if file.exists() else 0

    def read(self, kind: str, start: int, name: str) -> NDArray[Any]:
        """Read one column of a part: "scenario", "input.<name>" or "output.<name>"."""
        from pyarrow import parquet

        with parquet.ParquetFile(self._file(kind, start)) as file:
            column = file.read([name]).column(0).combine_chunks()
            shape = json.loads((file.schema_arrow.field(name).metadata or {}).get(b"shape", b"[]"))
        return _from_arrow(column, shape)

    def outputs(self, start: int) -> tuple[dict[str, Column], Origin]:
        """Return the outputs of a part without its rows, and where they come from."""
        from pyarrow import parquet

        schema = parquet.read_schema(self._file("part", start))
        found = {}
        for field in schema:
            if field.name.startswith("output."):
                about = {key.decode(): value.decode() for key, value in field.metadata.items()}
                empty = np.empty((0, *json.loads(about["shape"])), dtype=about["dtype"])
                unit = json.loads(about["unit"])
                found[field.name.removeprefix("output.")] = Column(
                    empty, tuple(json.loads(about["dims"])), unit, about["description"]
                )
        texts = json.loads(schema.metadata[b"origin"])
        return found, Origin(tuple((kind, tuple(lines)) for kind, lines in texts))

    def _file(self, kind: str, start: int) -> Path:
        return self.path / f"{kind}-{start:012d}.parquet"


def _about(column: Column) -> dict[str, str]:
    return {
        "dtype": str(column.values.dtype if column.values.dtype.kind != "U" else np.dtype(object)),
        "shape": json.dumps(column.values.shape[1:]),
        "dims": json.dumps(column.dims),
        "unit": json.dumps(column.unit),
        "description": column.description,
    }


def _to_arrow(values: NDArray[Any]) -> Any:
    """One entry for each row; rows of several numbers as lists of fixed size."""
    import pyarrow as pa

    width = int(np.prod(values.shape[1:], dtype=int))
    flat = np.ascontiguousarray(values).reshape(-1)
    entries = pa.array(flat.tolist(), pa.string()) if flat.dtype.kind in "UO" else pa.array(flat)
    return entries if values.ndim == 1 else pa.FixedSizeListArray.from_arrays(entries, width)


def _from_arrow(column: Any, shape: list[int]) -> NDArray[Any]:
    entries = column.flatten() if shape else column
    values = entries.to_numpy(zero_copy_only=False)
    shaped: NDArray[Any] = values.reshape(len(column), *shape)
    return shaped


def _replace(target: Path, write: Any) -> None:
    """Write beside the target, then put it in place at once."""
    beside = target.with_name(f".{target.name}.{os.getpid()}")
    try:
        write(beside)
        with beside.open("rb+") as file:
            os.fsync(file.fileno())
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)
