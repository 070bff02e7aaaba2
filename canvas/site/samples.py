"""The sample sites that come with the program, copied out to be opened and changed."""

from __future__ import annotations

import shutil
from pathlib import Path

from canvas.base import resources
from canvas.base.errors import BadData, StoreTrouble

#: A sample's finished site lies in this folder beside the script that makes it.
SITE_FOLDER = "site"


def sample_names() -> list[str]:
    """Return the names of the samples there are."""
    root = resources.samples()
    return sorted(p.parent.parent.name for p in root.glob(f"*/{SITE_FOLDER}/site.gpkg"))


def copy_sample(name: str, folder: Path) -> Path:
    """Copy a sample site into a new or empty folder, and return the folder."""
    if name not in sample_names():
        raise BadData(
            f"there is no sample called “{name}”", remedy=f"Samples: {', '.join(sample_names())}."
        )
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadData(
            "there is something in this place already",
            where=str(folder),
            kept="Nothing was written.",
            remedy="Choose a new folder.",
        )
    source = resources.samples() / name / SITE_FOLDER
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file in sorted(source.iterdir()):
            if file.is_file():
                # Contents only: an installed copy may be read-only, the owner's must not be.
                shutil.copyfile(file, folder / file.name)
    except OSError as err:
        raise StoreTrouble(
            f"the sample could not be copied ({err.strerror})",
            where=str(folder),
            remedy="Choose a folder that can be written, on a disk with room.",
        ) from err
    return folder
