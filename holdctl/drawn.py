"""Writing a figure to a file: its form by the name, the same bytes for the same figure."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from holdctl.errors import JobError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

FORMATS = (".png", ".svg", ".pdf")


def save(figure: "Figure", path: Path, behind: Sequence["Figure"] = ()) -> None:
    """Write a figure in the form that the file's name asks for, without dates, so that it can be compared.

    `behind` are further pages, which only a PDF has.
    """
    from matplotlib import rc_context

    suffix = path.suffix.lower()
    if suffix not in FORMATS:
        raise JobError(f"Can't draw to {path}: let its name end in {', '.join(FORMATS)}.")
    no_date = {".png": {"Software": None}, ".svg": {"Date": None, "Creator": None}}
    metadata = no_date.get(suffix, {"CreationDate": None, "Producer": None, "Creator": None})
    try:
        with rc_context({"svg.hashsalt": "holdctl", "svg.fonttype": "path", "pdf.fonttype": 42}):
            if behind:
                _pages([figure, *behind], path, metadata)
            else:
                figure.savefig(path, format=suffix[1:], metadata=metadata)
    except OSError as error:
        raise JobError(f"Can't write the picture {path} ({error.strerror}): give another folder.") from error


def _pages(pages: Sequence["Figure"], path: Path, metadata: Mapping[str, str | None]) -> None:
    from matplotlib.backends.backend_pdf import PdfPages

    with PdfPages(path, metadata=dict(metadata)) as pdf:
        for page in pages:
            pdf.savefig(page)
