"""Where the shipped data is, and writing that cannot leave half a file."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from labkit.base.errors import LabkitError
from labkit.base.given import as_path

__all__ = ["data_path", "read_text", "write_atomic"]

_PACKAGE = Path(__file__).resolve().parent.parent


def data_path(*parts: str) -> Path:
    """The path of a shipped file or folder, e.g. ``data_path("datasets", "boards", "orchard.toml")``.

    An installed wheel carries the data inside the package; a checkout has it beside the package.

    Raises
    ------
    LabkitError
        If there is no such file in this installation.
    """
    for root in (_PACKAGE / "_data", _PACKAGE.parent):
        path = root.joinpath(*parts)
        if path.exists():
            return path
    raise LabkitError(
        f"this installation of labkit has no {'/'.join(parts)}",
        try_this="check the name, or install labkit again",
        code="data-missing",
    )


def read_text(path: str | Path) -> str:
    """The text of a UTF-8 file.

    Raises
    ------
    LabkitError
        If the file is missing, is a folder, or is not UTF-8 text.
    """
    path = as_path(path)
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise LabkitError(
            f"there is no file {path.name}",
            where=str(path),
            try_this="check the name and the folder",
            code="file-missing",
        ) from None
    except (IsADirectoryError, PermissionError) as exc:
        raise LabkitError(
            f"{path.name or path} cannot be read: {exc.strerror}",
            where=str(path),
            try_this="give a readable file",
            code="file-unreadable",
        ) from None
    except UnicodeDecodeError as exc:
        raise LabkitError(
            f"{path.name} is not UTF-8 text (byte {exc.start})",
            where=str(path),
            try_this="save it as plain UTF-8 text",
            code="file-not-text",
        ) from None


def write_atomic(path: str | Path, content: str | bytes) -> Path:
    """Write beside, sync, rename: a reader sees the old file or the new one, never half of either.

    Raises
    ------
    LabkitError
        If nothing can be written there.
    """
    path = as_path(path)
    data = content.encode("utf-8") if isinstance(content, str) else content
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    except OSError as exc:
        raise _unwritable(path, exc) from None
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        Path(name).chmod(0o666 & ~_umask())
        Path(name).replace(path)
    except BaseException as exc:
        Path(name).unlink(missing_ok=True)
        if isinstance(exc, OSError):
            raise _unwritable(path, exc) from None
        raise
    return path


def _unwritable(path: Path, exc: OSError) -> LabkitError:
    if path.is_dir():
        return LabkitError(
            f"{path.name or path} cannot be written: it is a folder",
            where=str(path),
            try_this="give the name of a file in it",
            code="file-unwritable",
        )
    return LabkitError(
        f"{path.name} cannot be written: {exc.strerror or exc}",
        where=str(path),
        try_this="give another folder, one that you may write to",
        code="file-unwritable",
    )


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
